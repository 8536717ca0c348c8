-- What was calculated from a blood pressure, where the site asked for it: the version of the reading carries it along.

alter table readings add column derived jsonb;
comment on column readings.derived is 'Values calculated from this version, mm[Hg] as text, by kind (pulse-pressure, mean-pressure), and the factor of the mean. Each kind is rendered as an Observation of its own, with the version, stamp and status of this row. Null for a kind: it was published before and holds no more. Null: nothing is calculated.';
create index readings_with_derived on readings (stamp) where derived is not null;
