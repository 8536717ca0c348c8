-- Registration of senders and devices, whose each device is, how their clocks go, and how local codes are read.

alter table sources
  add column source_id uuid not null unique default gen_random_uuid(),
  add column zone text,
  add column synchronised boolean not null default false,
  add column application text,
  add column facility text,
  add column certificate_sha256 bytea unique,
  add column default_authority text,
  add column authorities jsonb,
  add column disabled_at timestamptz;
comment on column sources.zone is 'IANA zone of its times that have no offset; null: such times are held.';
comment on column sources.synchronised is 'Its clock is kept by a time service: a time is in the future sooner.';
comment on column sources.application is 'HL7 v2 MSH-3 of its messages: with facility (MSH-4) and certificate it tells the peer.';
comment on column sources.certificate_sha256 is 'SHA-256 of the DER client certificate that its TLS connections present.';
comment on column sources.default_authority is 'Identifier system of patient identifiers that name no assigning authority.';
comment on column sources.authorities is 'Identifier systems by the name of the assigning authority: {"WARD": "urn:example:mrn"}.';
create unique index sources_by_peer on sources (application, coalesce(facility, '')) where application is not null;

create table device_versions (
  device_key integer not null references devices,
  version smallint not null,
  stamp timestamptz not null,
  superseded timestamptz,
  display text,
  type text,
  place_key integer references places,
  signs text[],
  attended boolean,
  worn boolean not null default false,
  zone text,
  time_accuracy_ms integer,
  accuracy jsonb,
  disabled boolean not null default false,
  primary key (device_key, version)
);
comment on table device_versions is 'Devices as registered, version by version; no version: nobody registered it.';
comment on column device_versions.signs is 'Signs that it may bring; null: any.';
comment on column device_versions.attended is 'A person stands by each reading of it; null: as its source.';
comment on column device_versions.worn is 'It goes where the patient goes: a transfer does not end whose it is.';
comment on column device_versions.time_accuracy_ms is 'How far its times may be off, as declared.';
comment on column device_versions.accuracy is 'Declared accuracy by sign: {"oxygen-saturation": {"within": 2, "unit": "%"}}.';
create index device_versions_by_stamp on device_versions (stamp);

create table associations (
  association_key bigint generated always as identity primary key,
  association_id uuid not null unique,
  device_key integer not null references devices,
  patient_key integer not null references patients,
  identifier_key integer not null references patient_identifiers,
  from_at timestamptz not null,
  to_at timestamptz,
  origin text not null,
  ended_by text,
  submission_id uuid references submissions,
  client_key integer references clients,
  recorded_at timestamptz not null
);
comment on table associations is 'Whose a device was, and from when to when: one patient at a time.';
comment on column associations.identifier_key is 'The identifier by which the patient was named.';
comment on column associations.to_at is 'Null: it has not ended.';
comment on column associations.origin is 'message or admin.';
comment on column associations.ended_by is 'disassociation, next-association, discharge, transfer or admin; null: it has not ended.';
create index associations_by_device on associations (device_key, from_at);
create index associations_open on associations (patient_key) where to_at is null;

create table device_clocks (
  device_key integer primary key references devices,
  offset_ms bigint not null,
  seen_at timestamptz not null
);
comment on table device_clocks is 'Device time minus true time, as last seen in a message that told both.';

create table source_clocks (
  source_key integer primary key references sources,
  skews_ms bigint[] not null,
  seen_at timestamptz not null
);
comment on table source_clocks is 'Time of sending minus time of receipt of the last messages of a source, newest last, at most 20.';

create table source_mappings (
  source_key integer not null references sources,
  version smallint not null,
  mapping jsonb not null,
  reason text not null,
  proposed_at timestamptz not null,
  proposed_by integer references clients,
  in_force_at timestamptz,
  in_force_by integer references clients,
  primary key (source_key, version)
);
comment on table source_mappings is 'How local codes and unit spellings of a source are read; the newest that was put in force counts.';
