-- A client proves itself by a secret or by keys of its own, and may be known to another issuer of tokens.

alter table clients
  alter column secret_sha256 drop not null,
  add column jwks jsonb,
  add column jwks_url text,
  add column external_id text unique,
  add constraint clients_one_proof check (num_nonnulls(secret_sha256, jwks, jwks_url) = 1);
comment on column clients.jwks is 'Public keys (RFC 7517) that were registered in place.';
comment on column clients.jwks_url is 'Where the client publishes its public keys; https.';
comment on column clients.external_id is 'The name of this client at the issuer that AUTH_ISSUER names.';
