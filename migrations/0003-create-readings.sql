-- The facts: one row a version of a reading, published or not. FHIR resources are rendered from these rows.

create type vital as enum (
  'respiratory-rate', 'pulse-rate', 'oxygen-saturation', 'blood-pressure', 'body-temperature',
  'body-height', 'body-weight', 'oxygen-flow', 'inspired-oxygen', 'consciousness');
create type method as enum (
  'counted', 'palpation', 'auscultation', 'pulse-oximetry', 'oscillometry',
  'electrocardiography', 'impedance', 'capnography', 'thermometry', 'invasive');
create type site as enum (
  'radial-artery', 'brachial-artery', 'carotid-artery', 'femoral-artery', 'apex',
  'upper-arm', 'forearm', 'wrist', 'thigh', 'ankle', 'finger', 'toe', 'hand', 'foot', 'ear',
  'forehead', 'oral', 'tympanic', 'axillary', 'rectal', 'temporal', 'core');
create type side as enum ('left', 'right');
create type body_position as enum ('sitting', 'standing', 'supine', 'semi-recumbent', 'prone');
create type verdict as enum ('accepted', 'noted', 'held', 'rejected');
create type hold_kind as enum ('value', 'unit', 'identity');
create type observation_status as enum (
  'preliminary', 'final', 'amended', 'corrected', 'entered-in-error', 'cancelled');

create table readings (
  patient_key integer not null references patients,
  identifier_key integer not null,
  effective_at timestamptz not null,
  stamp timestamptz not null,
  reading_id uuid not null,
  set_id uuid,
  superseded timestamptz,
  hold_until timestamptz,
  source_key integer not null,
  encounter_key integer,
  recorder_key integer,
  recorder_asserted boolean,
  device_key integer,
  place_key integer,
  vital vital not null,
  method method,
  site site,
  side side,
  position body_position,
  verdict verdict not null,
  hold hold_kind,
  status observation_status,
  version smallint not null,
  edition smallint not null,
  offset_minutes smallint not null,
  amount numeric,
  systolic numeric,
  diastolic numeric,
  mean numeric,
  code text,
  absent text,
  interpretation text,
  note text,
  entered jsonb,
  context jsonb,
  findings jsonb,
  replaces uuid,
  primary key (patient_key, effective_at, reading_id, version)
);
comment on table readings is 'Versions of readings. A version is never changed, save that superseded is set when the next one takes its place.';
comment on column readings.identifier_key is 'The patient identifier that the set named; printed as the subject''s identifier.';
comment on column readings.stamp is 'Commit stamp: one a commit, greater than that of every earlier commit. FHIR meta.lastUpdated.';
comment on column readings.superseded is 'Stamp of the version that took this one''s place; null: this is the newest.';
comment on column readings.status is 'FHIR status under which this version is published; null: it is not.';
comment on column readings.hold is 'What the hold doubts; null: not held, or decided.';
comment on column readings.hold_until is 'When a hold that nobody has decided is published as preliminary; null: it is out already, or never goes out by itself.';
comment on column readings.amount is 'The value in the canonical unit of the sign (UCUM): /min, %, Cel, cm, kg, L/min. Pressures in mm[Hg] stand in their own columns. Trailing zeros count.';
comment on column readings.interpretation is 'HL7 ObservationInterpretation codes, one a part, in the order value or systolic/diastolic/mean, joined by a slash.';
comment on column readings.recorder_asserted is 'The sending program named the recorder; no person signed in.';
comment on column readings.entered is 'What was typed, where that is not the stored number and unit: value and unit, or count and seconds.';
comment on column readings.findings is 'What the rules said when this version was made, in the words that were told; kept so that the version stays as it was.';
comment on column readings.replaces is 'The reading that was withdrawn because it stood under the wrong patient.';
create index readings_by_id on readings (reading_id);
create index readings_by_stamp on readings (stamp);
create index readings_held on readings (hold_until) where hold is not null and superseded is null;
create index readings_of_concern on readings (stamp) where verdict in ('held', 'rejected') and superseded is null;

create table publication_clock (
  last_stamp timestamptz not null
);
comment on table publication_clock is 'One row. Its lock is the publication lock: held from the taking of a stamp to the commit, it makes stamp order commit order.';
insert into publication_clock values ('epoch');
