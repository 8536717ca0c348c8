-- Assertions that clients have proved themselves by: each is good once, in whichever process it arrives.

create table used_assertions (
  client_key integer not null references clients,
  jti_sha256 bytea not null,
  expires_at timestamptz not null,
  primary key (client_key, jti_sha256)
);
comment on table used_assertions is 'Kept until the assertion has ended by itself (minutes), then cleared.';
comment on column used_assertions.jti_sha256 is 'SHA-256 of the jti, which may be long.';
create index used_assertions_by_end on used_assertions (expires_at);
