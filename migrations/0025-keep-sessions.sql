-- People who sign in with the pages: their sessions, the demo's own people, and the client that stands for the pages.

alter table clients
  add column built_in boolean not null default false,
  drop constraint clients_one_proof,
  add constraint clients_one_proof
    check (num_nonnulls(secret_sha256, jwks, jwks_url) = case when built_in then 0 else 1 end);
comment on column clients.built_in is 'It stands for the pages, came with the gateway and has no proof: nobody gets a token as it, only people who have signed in.';

insert into sources (name, attended, built_in)
select case when exists (select from sources where name = 'bedside') then 'bedside of the pages' else 'bedside' end,
       true, true;
insert into clients (client_id, name, scopes, source_key, built_in)
select 'pages', 'pages',
       array['sets.write', 'sets.check', 'bedside', 'review.read', 'review.write', 'export.read', 'people.read',
             'rules.read', 'rules.write', 'rules.approve', 'admin', 'metrics.read'],
       source_key, true
  from sources where built_in and attended;

create table sessions (
  session_sha256 bytea primary key,
  person_key integer not null references people,
  name text not null,
  scopes text[] not null,
  created_at timestamptz not null,
  seen_at timestamptz not null
);
comment on table sessions is 'People signed in with the pages. A row is removed at sign-out, and some time after it has ended by itself.';
comment on column sessions.session_sha256 is 'SHA-256 of the 256 random bits in the browser''s cookie: whoever reads this table cannot use them.';
comment on column sessions.name is 'What the person is called on the pages.';
comment on column sessions.scopes is 'Those of the person''s roles at sign-in.';
comment on column sessions.seen_at is 'The last request, to a quarter of a minute.';
create index sessions_by_seen on sessions (seen_at);

create table local_people (
  login text primary key,
  person_key integer not null unique references people,
  name text not null,
  scopes text[] not null,
  salt bytea not null,
  password_scrypt bytea not null
);
comment on table local_people is 'People who sign in by a password kept here: those of the demo ward and nobody else.';
