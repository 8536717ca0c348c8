-- Who registered each version of a patient, for its provenance.

alter table patient_versions
  add column client_key integer references clients,
  add column submission_id uuid references submissions;
comment on column patient_versions.client_key is 'The client that registered it so; null: a message, a merge, or one from before this was kept.';
comment on column patient_versions.submission_id is 'The message that registered it so.';
