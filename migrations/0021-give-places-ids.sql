-- Places are served as FHIR Locations, which need ids of their own.

alter table places add column place_id uuid not null unique default gen_random_uuid();
comment on column places.place_id is 'Logical id of the FHIR Location.';
