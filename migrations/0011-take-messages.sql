-- Messages of devices: they name no client, one may bring sets of several patients, and rows nobody can read.

alter table submissions
  alter column client_key drop not null,
  add column part_of uuid references submissions,
  add column delivered bytea;
alter table decisions alter column client_key drop not null;
comment on column submissions.client_key is 'Null: it came as a message from a peer of the source, not by a token.';
comment on column submissions.kind is 'set; decision (a correction that carries a reading); reference-check; message (one that brought no set).';
comment on column submissions.part_of is 'One message may bring several sets: the later ones have no bytes of their own and name the submission that holds the whole message.';
comment on column submissions.delivered is 'The set as it was read from a message, JSON in raw deflate: judging again must not hang on how messages of the source are read today. Null: the bytes themselves are the set.';
create index submissions_by_whole on submissions (part_of) where part_of is not null;

alter table readings add column report jsonb;
comment on column readings.report is 'What the message of a device told beyond the value: where it stood in it, doubts of its reader, the device''s own marks, the device''s time.';

create table messages (
  submission_id uuid primary key references submissions,
  source_key integer not null references sources,
  control_id text,
  message_type text,
  sent_at timestamptz,
  acknowledged text
);
comment on table messages is 'HL7 v2 messages: the header of each submission that was one.';
comment on column messages.control_id is 'MSH-10. Senders use one again for other content, so it is no key.';
comment on column messages.sent_at is 'MSH-7, by the sender''s clock.';
comment on column messages.acknowledged is 'The acknowledgement code that was sent first: AA, AE, AR, CA, CE or CR; null: none was asked for.';
create index messages_by_control_id on messages (source_key, control_id);

create table unread_rows (
  submission_id uuid not null references submissions,
  place smallint not null,
  at text not null,
  reason text not null,
  message text not null,
  code_system text,
  code text,
  code_name text,
  unit text,
  value text,
  read_at timestamptz,
  primary key (submission_id, place)
);
comment on table unread_rows is 'Rows of messages that brought no reading: a code without a mapping, a value that is no vital sign.';
comment on column unread_rows.place is 'Its place among what the submission brought, counted from 0: a replay that can read it gives the reading this place.';
comment on column unread_rows.at is 'Where it stands in the message, for people.';
comment on column unread_rows.read_at is 'When a replay under a new mapping made a reading of it.';
create index unread_rows_by_code on unread_rows (code_system, code) where read_at is null;
