-- What a changed configuration would have made of sets that were received: reports, nothing else.

create table trials (
  trial_id uuid primary key,
  configuration jsonb not null,
  received_from timestamptz not null,
  received_to timestamptz not null,
  examples smallint not null,
  requested_by integer not null references clients,
  requested_by_person integer references people,
  requested_at timestamptz not null,
  state text not null check (state in ('running', 'done', 'cancelled', 'failed', 'interrupted')),
  seen_at timestamptz not null,
  ended_at timestamptz,
  cancel_requested boolean not null default false,
  sets_total integer,
  sets_judged integer not null default 0,
  result jsonb
);
comment on table trials is 'Trials of a configuration over stored sets. A trial reads; this row is all that it writes.';
comment on column trials.received_to is 'Exclusive.';
comment on column trials.seen_at is 'When the process that runs it last wrote its progress; long ago and still running: that process is gone.';
comment on column trials.result is 'Which verdicts would change: counts and the ids of a few readings each, no values.';
