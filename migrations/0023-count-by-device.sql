-- How the readings of each device fared, by the hour; and the rejected readings by time.

create table device_hours (
  device_key integer not null references devices,
  counted_hour timestamptz not null,
  last_at timestamptz not null,
  accepted integer not null,
  noted integer not null,
  held integer not null,
  rejected integer not null,
  primary key (device_key, counted_hour)
);
comment on table device_hours is 'Readings judged by device and hour of judging; each process adds what it counted every few seconds, so a killed one loses as much. Rows older than a week are dropped.';
comment on column device_hours.last_at is 'The last receipt of that hour that brought a reading of the device.';

create index readings_rejected on readings (stamp, reading_id) where verdict = 'rejected' and superseded is null;
