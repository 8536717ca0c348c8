-- What keeps the registry straight: one patient a device at a time, mappings tried before use, a source for peers that nobody registered.

alter table associations
  add constraint associations_in_order check (to_at is null or to_at >= from_at);
create unique index associations_one_open on associations (device_key) where to_at is null;
comment on column associations.to_at is 'Not part of it; null: it has not ended. An association of no length was a mistake: it never held.';
-- The expression is that of the readers, word for word: of a device's past only what ended late is looked at.
create index associations_by_end on associations (device_key, (coalesce(to_at, 'infinity'::timestamptz)));
create index associations_by_patient on associations (patient_key, from_at);

alter table device_versions
  add column client_key integer references clients;
comment on column device_versions.client_key is 'By which client it was registered so.';

alter table sources add column built_in boolean not null default false;
comment on column sources.built_in is 'It came with the gateway: its name, peer and attendance stay as they are.';
insert into sources (name, attended, second_identifier_required, built_in)
values ('unregistered HL7 v2 peers', false, true, true);

alter table source_mappings
  add column tried_at timestamptz,
  add column force_reason text;
comment on column source_mappings.tried_at is 'When a message was last tried with it; null: never.';
comment on column source_mappings.force_reason is 'Why it was put in force, in the words of whoever did.';

create table source_hours (
  source_key integer not null references sources,
  counted_hour timestamptz not null,
  last_at timestamptz not null,
  accepted integer not null,
  noted integer not null,
  held integer not null,
  rejected integer not null,
  primary key (source_key, counted_hour)
);
comment on table source_hours is 'Readings judged by source and hour of judging; each process adds what it counted every few seconds, so a killed one loses as much. Rows older than a week are dropped.';
comment on column source_hours.last_at is 'The last receipt of that hour that brought a reading.';
