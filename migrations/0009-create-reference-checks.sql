-- Readings taken against a known value: a practice arm, a simulator, a calibrated device. Nobody's chart.

create table reference_checks (
  check_id uuid primary key references submissions (submission_id),
  kind text not null,
  taken_at timestamptz not null,
  offset_minutes smallint not null,
  source_key integer not null references sources,
  person_key integer references people,
  person_asserted boolean,
  device_key integer references devices,
  vital vital not null,
  method method,
  site site,
  parts jsonb not null,
  passed boolean not null,
  note text,
  edition smallint not null references editions
);
comment on table reference_checks is 'Checks of a device or a person against a known value. They belong to no patient and never become Observations.';
comment on column reference_checks.check_id is 'The submission that brought it: its bytes are kept there.';
comment on column reference_checks.person_asserted is 'The sending program named the person; nobody signed in.';
comment on column reference_checks.parts is 'A list: part, set value, value read, their difference, the tolerance, pass or fail; decimals as text in the canonical unit.';
create index reference_checks_by_device on reference_checks (device_key, taken_at) where device_key is not null;
create index reference_checks_by_person on reference_checks (person_key, taken_at) where person_key is not null;
create index reference_checks_by_time on reference_checks (taken_at);
