-- What arrived, byte for byte, and what was answered.

create table submissions (
  submission_id uuid primary key,
  source_key integer not null references sources,
  client_key integer not null references clients,
  received_at timestamptz not null,
  kind text not null,
  content_type text not null,
  set_id uuid,
  holds_key boolean not null,
  byte_length integer not null,
  sha256 bytea not null,
  body bytea not null,
  status smallint not null,
  answer bytea not null,
  edition smallint not null,
  changed_stamp timestamptz,
  patient_key integer references patients,
  identity_doubted_stamp timestamptz
);
comment on table submissions is 'Every submission of an authenticated sender, whatever became of it. A submission id ends in 0000; its readings have the same id with their place in the set, counted from 1, in the last 16 bits.';
comment on column submissions.kind is 'set, or decision (a correction that carries a reading).';
comment on column submissions.holds_key is 'This submission took the key (source, set id): later ones with that key repeat it or conflict.';
comment on column submissions.body is 'The bytes as received, raw deflate.';
comment on column submissions.answer is 'The body of the first answer, raw deflate: a repeat gets the very same bytes.';
comment on column submissions.changed_stamp is 'Commit stamp of the last change of a reading of this set; null where there is none.';
comment on column submissions.identity_doubted_stamp is 'Commit stamp at which readings of this set were last held for the patient''s identity; they are judged again when the register changes after it. Null: nobody''s identity is in doubt.';
create unique index submissions_by_key on submissions (set_id, source_key) where holds_key;
create index submissions_by_change on submissions (source_key, changed_stamp) where changed_stamp is not null;
create index submissions_awaiting_identity on submissions (patient_key) where identity_doubted_stamp is not null;
