-- Two registrations of one person become one, and apart again if that was wrong.

alter table patients
  add column merged_into integer references patients,
  add column merged_stamp timestamptz;
comment on column patients.merged_into is 'The patient that this one turned out to be; null: it stands for itself. Always one that is not merged itself.';
comment on column patients.merged_stamp is 'Commit stamp of the merge: as of earlier moments the patient stands for itself.';
create index patients_by_survivor on patients (merged_into) where merged_into is not null;

create table merges (
  merge_id uuid primary key,
  retired_key integer not null references patients,
  survivor_key integer not null references patients,
  identifier_keys integer[] not null,
  encounter_keys integer[] not null,
  stamp timestamptz not null,
  reason text not null,
  client_key integer references clients,
  person_key integer references people,
  submission_id uuid references submissions,
  undone_stamp timestamptz,
  undone_reason text,
  undone_by integer references clients
);
comment on table merges is 'Merges of patients, and whether they were undone: the only change of the subject of an Observation.';
comment on column merges.identifier_keys is 'Identifiers that led to the retired patient and lead to the survivor since.';
comment on column merges.encounter_keys is 'Visits of the retired patient, the survivor''s since.';
create index merges_by_retired on merges (retired_key) where undone_stamp is null;
create index merges_by_survivor on merges (survivor_key) where undone_stamp is null;

comment on table patient_identifiers is 'Business identifiers. What they say is never changed: old observation versions print it. Whose they are changes by a merge only.';
