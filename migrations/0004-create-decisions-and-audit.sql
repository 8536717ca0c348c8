-- What people decided, and who did what.

create table decisions (
  decision_key bigint generated always as identity primary key,
  reading_id uuid not null,
  from_version smallint not null,
  to_version smallint not null,
  action text not null,
  reason text not null,
  reason_code text not null,
  decided_at timestamptz not null,
  client_key integer not null references clients,
  person_key integer references people,
  submission_id uuid references submissions,
  new_reading_id uuid
);
comment on table decisions is 'Release, correct, reject, withdraw, assign: the cause of every later version of a reading that no deadline made.';
comment on column decisions.new_reading_id is 'The reading published anew under the right patient.';
create index decisions_by_reading on decisions (reading_id);

create table audit (
  audit_key bigint generated always as identity primary key,
  at timestamptz not null,
  client_key integer,
  person_key integer,
  action text not null,
  outcome smallint not null,
  entity text,
  detail jsonb
);
comment on table audit is 'One row a write, check, decision and refused access. No values of readings, no patient''s identifiers.';
comment on column audit.outcome is 'HTTP status that was answered.';
comment on column audit.entity is 'Path-like name of what it was about, e.g. submissions/<id> or readings/<id>.';
create index audit_by_time on audit (at);
