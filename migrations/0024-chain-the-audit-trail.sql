-- The audit trail as chains: what is written stays as it was, and whoever changes it is found out.

alter table audit
  alter column at type timestamptz(3),
  add column audit_id uuid,
  add column writer_key integer,
  add column patient_key integer,
  add column request_id text,
  add column address text;

create table audit_writers (
  writer_key integer generated always as identity primary key,
  writer_id uuid not null unique,
  started_at timestamptz not null,
  seen_at timestamptz not null,
  closed_at timestamptz
);
comment on table audit_writers is 'One row a process (or command) that writes audit entries and chains them.';
comment on column audit_writers.seen_at is 'When it last said that it lives; long ago and not closed: it was killed.';
comment on column audit_writers.closed_at is 'Its chain was ended and sealed: by itself when it stopped, or by another process when it was gone.';
create index audit_writers_open on audit_writers (seen_at) where closed_at is null;

-- What was written before there were chains is the work of one writer that is gone: the first process chains it.
insert into audit_writers (writer_id, started_at, seen_at)
select gen_random_uuid(), min(at), '-infinity' from audit having count(*) > 0;
-- The last part of an id is the old key: unique, and in the old order within a millisecond.
update audit a set
  writer_key = (select writer_key from audit_writers),
  audit_id = (select (left(h.hex, 8) || '-' || right(h.hex, 4) || '-7000-8000-' || lpad(to_hex(a.audit_key), 12, '0'))::uuid
                from (select lpad(to_hex((extract(epoch from a.at) * 1000)::bigint), 12, '0') as hex) h);

drop index audit_by_time;
alter table audit drop column audit_key;
alter table audit add primary key (audit_id);
-- Most entries are about sets, and those are found by their submission: an index of them would cost each commit.
create index audit_by_entity on audit (entity, audit_id) where entity not like 'submissions/%';
create index audit_by_patient on audit (patient_key, audit_id) where patient_key is not null;

comment on table audit is 'One row an act (in its transaction), read, search or refused access. Never changed; deleted by whole segments only. No values of readings, no patient''s identifiers.';
comment on column audit.audit_id is 'A UUID version 7 (RFC 9562, 5.7) of the moment of recording: ids sort by it.';
comment on column audit.at is 'When it happened, to the millisecond: as it is hashed.';
comment on column audit.outcome is 'HTTP status that was answered; 0: the client left before an answer began.';
comment on column audit.writer_key is 'The process that wrote it; null: none that chains.';
comment on column audit.patient_key is 'The patient that it was about, where there was one.';
comment on column audit.request_id is 'X-Request-Id of the request, as it was sent or given.';
comment on column audit.address is 'Network address that the request came from.';

create table audit_chain (
  writer_key integer not null,
  minute timestamptz not null,
  number integer not null,
  audit_id uuid not null unique,
  found boolean not null,
  hash bytea not null,
  primary key (writer_key, minute, number)
);
comment on table audit_chain is 'The chains: one a writer and minute, numbered from 1.';
comment on column audit_chain.minute is 'Start of the minute in which the entry was chained: its segment.';
comment on column audit_chain.found is 'It was chained as it lay in the database, after its process was killed or a commit had been in doubt: what it said before, nobody vouches for.';
comment on column audit_chain.hash is 'SHA-256 over the hash before it and the content of the entry; before the first stands a hash of writer and minute.';

create table audit_seals (
  seal_number bigint primary key,
  writer_key integer not null references audit_writers,
  minute timestamptz not null,
  entries integer not null,
  last_hash bytea not null,
  sealed_at timestamptz not null,
  hash bytea not null,
  unique (writer_key, minute)
);
comment on table audit_seals is 'One row a segment that is over, in one chain for the site: what is missing from it is missed. Kept when the entries are cleared.';
comment on column audit_seals.entries is 'How many entries the segment has.';
comment on column audit_seals.last_hash is 'Hash of its last entry.';
comment on column audit_seals.hash is 'SHA-256 over the hash of the seal before it and what this one says.';

create table audit_digest_key (
  digest_key bytea not null
);
comment on table audit_digest_key is 'One row: the key of the digests that stand in entries in place of the values of a search.';
insert into audit_digest_key
values (decode(replace(gen_random_uuid()::text || gen_random_uuid()::text, '-', ''), 'hex'));

-- Against mistakes and careless hands. The owner of the schema can remove it: what is changed then, the chains show.
create function refuse_audit_change() returns trigger language plpgsql as $$
begin
  if tg_op = 'DELETE' and tg_table_name <> 'audit_seals'
     and current_setting('audit.clearing', true) = 'on' then
    return null;
  end if;
  raise exception 'the audit trail is not changed: % of %', lower(tg_op), tg_table_name;
end $$;
create trigger audit_stays before update or delete or truncate on audit
  for each statement execute function refuse_audit_change();
create trigger audit_chain_stays before update or delete or truncate on audit_chain
  for each statement execute function refuse_audit_change();
create trigger audit_seals_stay before update or delete or truncate on audit_seals
  for each statement execute function refuse_audit_change();

create function clear_audit_segments(before timestamptz, most integer) returns integer language plpgsql as $$
declare
  cleared integer;
begin
  perform set_config('audit.clearing', 'on', true);
  with old as (
    select s.writer_key, s.minute from audit_seals s
     where s.minute < before
       and exists (select from audit_chain c where c.writer_key = s.writer_key and c.minute = s.minute)
     order by s.seal_number limit most),
  links as (
    delete from audit_chain c using old
     where c.writer_key = old.writer_key and c.minute = old.minute returning c.audit_id),
  entries as (
    delete from audit a using links where a.audit_id = links.audit_id)
  select count(*)::integer into cleared from old;
  perform set_config('audit.clearing', 'off', true);
  return cleared;
end $$;
comment on function clear_audit_segments is 'Deletes the entries of the oldest sealed segments before a moment, at most so many segments; returns how many. Their seals stay.';
