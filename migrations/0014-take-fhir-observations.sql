-- Observations that senders create under identifiers of their own, and parts of devices that they tell of.

create table observation_identifiers (
  system text not null,
  value text not null,
  reading_id uuid not null,
  primary key (system, value, reading_id)
);
comment on table observation_identifiers is 'Business identifiers that senders gave their Observations: by these a search finds them, and a conditional create knows what is kept already. Several readings may have one: nothing stops a sender from using it again without a condition.';
create index observation_identifiers_by_reading on observation_identifiers (reading_id);

create table told_devices (
  told_id uuid primary key,
  device_key integer not null references devices,
  path text not null,
  testing boolean not null,
  setting boolean not null,
  told_at timestamptz not null,
  unique (device_key, path)
);
comment on table told_devices is 'Devices and their parts as senders told of them by FHIR resources, so that later Observations may refer to them. It registers nothing.';
comment on column told_devices.told_id is 'The id under which a part was answered: of a FHIR Device or DeviceMetric. A device itself has its own id.';
comment on column told_devices.path is 'Types of the part and of what it stands in, from below the device, by a slash; empty: the device itself.';
comment on column told_devices.testing is 'In a mode in which it shows no patient''s values: demonstration, service, maintenance.';
comment on column told_devices.setting is 'What it tells is set, not measured.';
