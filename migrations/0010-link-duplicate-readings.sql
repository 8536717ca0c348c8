-- A reading that came by two roads is kept once: the later submissions point to it from here.

create table linked_readings (
  submission_id uuid not null references submissions,
  place smallint not null,
  reading_id uuid not null,
  first_submission_id uuid not null,
  primary key (submission_id, place)
);
comment on table linked_readings is 'Readings of a set that another submission had brought already: patient, sign, method, site, device, time to the second and value as sent are all equal. They have no rows of their own.';
comment on column linked_readings.place is 'Place of the reading in the later set, counted from 0.';
comment on column linked_readings.reading_id is 'The reading as it was kept first.';
comment on column linked_readings.first_submission_id is 'The submission that brought it first: when one of its readings changes, the later set has changed too.';
create index linked_readings_by_first on linked_readings (first_submission_id);
