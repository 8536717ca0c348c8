-- Who and what the gateway knows: senders, patients, and the small dictionaries that readings point to.

create table sources (
  source_key integer generated always as identity primary key,
  name text not null unique,
  attended boolean not null,
  second_identifier_required boolean not null default false,
  created_at timestamptz not null default now()
);
comment on table sources is 'Registered senders. A submission belongs to exactly one.';
comment on column sources.attended is 'A person stands by each reading: its observations go out as final, and its word "confirmed" counts.';
comment on column sources.second_identifier_required is 'A set without a second patient identifier is held instead of noted.';

create table clients (
  client_key integer generated always as identity primary key,
  client_id text not null unique,
  name text not null,
  secret_sha256 bytea not null,
  scopes text[] not null,
  source_key integer not null references sources,
  created_at timestamptz not null default now(),
  disabled_at timestamptz,
  ends_at timestamptz
);
comment on table clients is 'Programs that may ask for tokens. A client belongs to one source.';
comment on column clients.secret_sha256 is 'SHA-256 of a secret of 256 random bits: nothing to guess, so no slow hash is needed.';

create table signing_keys (
  kid text primary key,
  private_jwk jsonb not null,
  created_at timestamptz not null default now()
);
comment on table signing_keys is 'Keys that sign access tokens, shared by all processes. The newest signs; older ones verify until their tokens have ended.';

create table patients (
  patient_key integer generated always as identity primary key,
  patient_id uuid not null unique,
  created_at timestamptz not null default now()
);
comment on table patients is 'One row a person, also for identifiers that a sender named and nobody has registered: those have no version yet.';

create table patient_versions (
  patient_key integer not null references patients,
  version smallint not null,
  stamp timestamptz not null,
  superseded timestamptz,
  family_name text,
  birth_date text,
  gender text,
  resource jsonb not null,
  primary key (patient_key, version)
);
comment on table patient_versions is 'The FHIR Patient as registered, version by version; no version: not registered.';
comment on column patient_versions.birth_date is 'A FHIR date: YYYY, YYYY-MM or YYYY-MM-DD.';
create index patient_versions_by_stamp on patient_versions (stamp);

create table patient_identifiers (
  identifier_key integer generated always as identity primary key,
  system text not null,
  value text not null,
  patient_key integer not null references patients,
  unique (system, value)
);
comment on table patient_identifiers is 'Business identifiers. Rows are never changed: old observation versions print them.';
create index patient_identifiers_by_patient on patient_identifiers (patient_key);

create table encounters (
  encounter_key integer generated always as identity primary key,
  encounter_id uuid not null unique,
  system text not null,
  value text not null,
  patient_key integer not null references patients,
  unique (system, value)
);
comment on table encounters is 'Visits, as first named together with an identified patient; a set that names one with another patient is held.';

create table devices (
  device_key integer generated always as identity primary key,
  device_id uuid not null unique,
  system text not null,
  value text not null,
  unique (system, value)
);
comment on table devices is 'Measuring devices, as first named by a sender.';

create table people (
  person_key integer generated always as identity primary key,
  person_id uuid not null unique,
  system text not null,
  value text not null,
  unique (system, value)
);
comment on table people is 'Those who take sets and decide on them, by their staff identifiers.';

create table places (
  place_key integer generated always as identity primary key,
  path text not null unique
);
comment on table places is 'Where readings were taken, from the wide to the narrow: ward/bed.';
