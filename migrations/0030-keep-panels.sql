-- The readings of a set told as one Observation: versions of it, as its members and their statuses follow one another.

create table panels (
  patient_key integer not null references patients,
  identifier_key integer not null,
  effective_at timestamptz not null,
  stamp timestamptz not null,
  panel_id uuid not null,
  set_id uuid,
  superseded timestamptz,
  source_key integer not null,
  encounter_key integer,
  recorder_key integer,
  recorder_asserted boolean,
  status observation_status not null,
  version smallint not null,
  edition smallint not null,
  offset_minutes smallint not null,
  members uuid[] not null,
  primary key (patient_key, effective_at, panel_id, version)
);
comment on table panels is 'Versions of vital-signs panels. A version is never changed, save that superseded is set when the next one takes its place.';
comment on column panels.panel_id is 'That of the submission which brought the set, with ffff as the last 16 bits: no reading has such an id, and those of the set come before it.';
comment on column panels.effective_at is 'The earliest time of the members that the set itself brought; with offset_minutes, encounter and identifier of that reading.';
comment on column panels.stamp is 'Commit stamp, that of the versions of readings which made this version necessary.';
comment on column panels.superseded is 'Stamp of the version that took this one''s place; null: this is the newest.';
comment on column panels.members is 'Ids of readings in the order of the set, those included that another set had brought before. Of a version in error: the members that it had.';
create index panels_by_id on panels (panel_id);
create index panels_by_stamp on panels (stamp);
