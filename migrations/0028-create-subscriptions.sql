-- Subscriptions: who wants to be told of which published versions, and how far each has been told.

create table subscriptions (
  subscription_key integer generated always as identity primary key,
  subscription_id uuid not null unique,
  client_key integer not null references clients,
  version integer not null,
  changed_at timestamptz not null,
  topic text not null,
  filters text[] not null,
  endpoint text not null,
  headers text[] not null,
  mime_type text not null,
  content text not null check (content in ('empty', 'id-only', 'full-resource')),
  heartbeat_seconds integer,
  timeout_seconds integer,
  max_count integer,
  ends_at timestamptz,
  reason text not null,
  contact jsonb,
  status text not null check (status in ('requested', 'active', 'error', 'off')),
  error text,
  cursor_stamp timestamptz not null,
  cursor_reading uuid,
  cursor_version smallint,
  events bigint not null default 0,
  settled bigint not null default 0,
  failures integer not null default 0,
  failing_since timestamptz,
  refusals smallint not null default 0,
  given_up smallint not null default 0,
  last_sent_at timestamptz,
  due_at timestamptz not null,
  worked_at timestamptz not null,
  lease uuid,
  leased_until timestamptz
);
comment on table subscriptions is 'Standing orders to notify a client of published versions (FHIR Subscription), each with its state.';
comment on column subscriptions.version is 'Rises with every change by the client, and of the status.';
comment on column subscriptions.filters is 'Searches of Observation, as they were sent; all must be met.';
comment on column subscriptions.headers is 'Lines that go with every notification. Read for sending only: never shown, never logged.';
comment on column subscriptions.error is 'Why it is not being delivered now, in words; null: it is.';
comment on column subscriptions.cursor_stamp is 'Versions up to this stamp have been looked at; with cursor_reading and cursor_version, of that stamp only those up to there.';
comment on column subscriptions.events is 'The number of the last event counted.';
comment on column subscriptions.settled is 'Up to this number events were delivered or given up.';
comment on column subscriptions.failing_since is 'The first of the failures in a row that goes on.';
comment on column subscriptions.refusals is 'How often in a row the subscriber has refused what is next.';
comment on column subscriptions.given_up is 'How many events in a row were given up.';
comment on column subscriptions.due_at is 'Not to be worked on before.';
comment on column subscriptions.lease is 'The process at work on it. Once leased_until has passed, any process takes over.';
create index subscriptions_by_client on subscriptions (client_key);

create table subscription_events (
  subscription_key integer not null references subscriptions on delete cascade,
  event_number bigint not null,
  stamp timestamptz not null,
  reading_id uuid not null,
  version smallint not null,
  shown text not null,
  occasion text not null check (occasion in ('new', 'corrected', 'withdrawn')),
  primary key (subscription_key, event_number)
);
comment on table subscription_events is 'Which version an event is about. Notifications are rendered from the versions; rows are cleared some days after they were delivered.';
comment on column subscription_events.shown is 'The reading itself, or the kind of value calculated from it.';

create table subscription_dead_letters (
  subscription_key integer not null references subscriptions on delete cascade,
  event_number bigint not null,
  given_up_at timestamptz not null,
  attempts smallint not null,
  reason text not null,
  primary key (subscription_key, event_number)
);
comment on table subscription_dead_letters is 'Events that the subscriber refused again and again, so that those after them were delivered first.';
