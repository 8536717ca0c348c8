-- Where patients are, as the hospital's register tells it. Never who: a place alone files nothing.

create table stays (
  patient_key integer not null references patients,
  from_at timestamptz not null,
  to_at timestamptz,
  encounter_key integer references encounters,
  place_key integer references places,
  voided boolean not null default false,
  submission_id uuid not null references submissions,
  primary key (patient_key, from_at)
);
comment on table stays is 'A patient at a place from one time to another, by admission, transfer and discharge messages.';
comment on column stays.to_at is 'Null: it has not ended.';
comment on column stays.voided is 'It was cancelled: it never was.';
create index stays_open_by_place on stays (place_key) where to_at is null and not voided;
