-- Which rules and limits judge, from when on, by whose proposal and whose word.

create table editions (
  edition smallint primary key,
  program smallint not null,
  configuration jsonb not null,
  state text not null check (state in ('proposed', 'approved', 'refused')),
  reason text not null,
  proposed_at timestamptz not null,
  proposed_by integer references clients,
  proposed_by_person integer references people,
  wanted_from timestamptz,
  decided_at timestamptz,
  decided_by integer references clients,
  decided_by_person integer references people,
  decision_reason text,
  in_force_from timestamptz unique,
  check ((state = 'approved') = (in_force_from is not null))
);
comment on table editions is 'Site configurations of rules and limits. Readings and submissions name the edition that judged them. A submission is judged by the approved edition with the latest in_force_from at or before its receipt. Rows are never changed, save by the one decision about a proposal.';
comment on column editions.program is 'The program''s own edition (catalogue, rules, renderer) that the configuration was made for.';
comment on column editions.configuration is 'As in the schema site-rules; {} is the published defaults.';
comment on column editions.wanted_from is 'From when on the proposer wants it in force; null: as soon as it is approved.';
comment on column editions.in_force_from is 'From this time of receipt on. Always a little after the commit that set it, so that no set received before that commit is judged by it, and none after it by another.';

insert into editions (edition, program, configuration, state, reason, proposed_at, decided_at, decision_reason, in_force_from)
values (1, 1, '{}', 'approved', 'The published defaults.', now(), now(), 'The published defaults.', '-infinity');
