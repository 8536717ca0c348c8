-- Bulk exports: what a client asked for, and the slices that it is handed over in. No resource is copied.

create table exports (
  export_id uuid primary key,
  client_key integer not null references clients,
  request text not null,
  as_of timestamptz not null,
  selection jsonb not null,
  requested_at timestamptz not null,
  expires_at timestamptz not null,
  state text not null check (state in ('running', 'done', 'failed')),
  failures smallint not null default 0,
  lease uuid,
  leased_until timestamptz
);
comment on table exports is 'Asynchronous exports (FHIR Bulk Data). Cancelled and expired ones are removed.';
comment on column exports.request is 'The address of the kick-off request, as the manifest repeats it.';
comment on column exports.as_of is 'Stamp of the last commit before the request: every file shows the state of the site then.';
comment on column exports.selection is 'Types, patients, times and filters as they were asked for.';
comment on column exports.failures is 'How often the work on it failed for another reason than the database being away.';
comment on column exports.lease is 'The process at work on it. Once leased_until has passed, any process takes over.';
create index exports_running on exports (requested_at) where state = 'running';
create index exports_by_client on exports (client_key);
create index exports_by_expiry on exports (expires_at);

create table export_files (
  export_id uuid not null references exports on delete cascade,
  number integer not null,
  part text not null,
  after_key text,
  until_key text,
  resources integer not null,
  primary key (export_id, number)
);
comment on table export_files is 'A file is a range of keys; its lines are read from the kept versions when it is fetched.';
comment on column export_files.part is 'Which of the exportable things it holds.';
comment on column export_files.after_key is 'Where it begins, exclusive; null: at the first key.';
comment on column export_files.until_key is 'Where it ends, inclusive; null: after the last key.';
comment on column export_files.resources is 'Lines. A range without any has a row too: so a process that takes over knows where to go on.';
