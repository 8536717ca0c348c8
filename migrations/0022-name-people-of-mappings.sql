-- Who was signed in when a mapping was proposed and put in force.

alter table source_mappings
  add column proposed_by_person integer references people,
  add column in_force_by_person integer references people;
comment on column source_mappings.proposed_by_person is 'Who was signed in; null: a program alone.';
comment on column source_mappings.in_force_by_person is 'Who was signed in; null: a program alone.';
