-- How often each rule spoke, by the hour.

create table rule_counts (
  rule text not null,
  counted_hour timestamptz not null,
  times integer not null,
  primary key (rule, counted_hour)
);
comment on table rule_counts is 'Findings of received sets, by rule and by the hour of their judging; each process adds what it counted every few seconds, so a killed one loses as much. Rows older than a week are dropped.';
