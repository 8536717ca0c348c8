/** The words of the gateway's contract: closed lists that schemas, database, rules and renderer share. */

export const VITALS = [
  'respiratory-rate',
  'pulse-rate',
  'oxygen-saturation',
  'blood-pressure',
  'body-temperature',
  'body-height',
  'body-weight',
  'oxygen-flow',
  'inspired-oxygen',
  'consciousness',
] as const;
export type Vital = (typeof VITALS)[number];

export const METHODS = [
  'counted',
  'palpation',
  'auscultation',
  'pulse-oximetry',
  'oscillometry',
  'electrocardiography',
  'impedance',
  'capnography',
  'thermometry',
  'invasive',
] as const;
export type Method = (typeof METHODS)[number];

export const SITES = [
  'radial-artery',
  'brachial-artery',
  'carotid-artery',
  'femoral-artery',
  'apex',
  'upper-arm',
  'forearm',
  'wrist',
  'thigh',
  'ankle',
  'finger',
  'toe',
  'hand',
  'foot',
  'ear',
  'forehead',
  'oral',
  'tympanic',
  'axillary',
  'rectal',
  'temporal',
  'core',
] as const;
export type Site = (typeof SITES)[number];

export const SIDES = ['left', 'right'] as const;
export type Side = (typeof SIDES)[number];

export const POSITIONS = ['sitting', 'standing', 'supine', 'semi-recumbent', 'prone'] as const;
export type Position = (typeof POSITIONS)[number];

export const CUFF_SIZES = [
  'infant',
  'child',
  'small-adult',
  'adult',
  'large-adult',
  'thigh',
] as const;
export type CuffSize = (typeof CUFF_SIZES)[number];

export const CONSCIOUSNESS_CODES = ['alert', 'confusion', 'voice', 'pain', 'unresponsive'] as const;
export type ConsciousnessCode = (typeof CONSCIOUSNESS_CODES)[number];

export const ABSENT_REASONS = ['not-done', 'refused', 'not-possible'] as const;
export type AbsentReason = (typeof ABSENT_REASONS)[number];

/** Units a sender may name (UCUM, case sensitive). */
export const ENTERED_UNITS = [
  '/min',
  '{beats}/min',
  '{breaths}/min',
  '%',
  'mm[Hg]',
  'kPa',
  'Cel',
  '[degF]',
  'kg',
  'g',
  '[lb_av]',
  'cm',
  'm',
  '[in_i]',
  'L/min',
] as const;
export type EnteredUnit = (typeof ENTERED_UNITS)[number];

/** Units in which values are kept and published (UCUM). */
export type CanonicalUnit = '/min' | '%' | 'mm[Hg]' | 'Cel' | 'kg' | 'cm' | 'L/min';

/** The numbers a reading can carry: one `value`, or the parts of a pressure. */
export const PARTS = ['value', 'systolic', 'diastolic', 'mean'] as const;
export type Part = (typeof PARTS)[number];

/** What can be calculated from a blood pressure and published beside it. Nobody can send it. */
export const DERIVED_KINDS = ['mean-pressure', 'pulse-pressure'] as const;
export type DerivedKind = (typeof DERIVED_KINDS)[number];

export const VERDICTS = ['accepted', 'noted', 'held', 'rejected'] as const;
export type Verdict = (typeof VERDICTS)[number];

/** HL7 v3 ObservationInterpretation, normality group: at most one on a value. */
export const INTERPRETATIONS = ['LL', 'L', 'N', 'H', 'HH'] as const;
export type Interpretation = (typeof INTERPRETATIONS)[number];

/** What a hold doubts decides how it ends: see {@link HoldKind} in the README's verdict table. */
export const HOLD_KINDS = ['value', 'unit', 'identity'] as const;
export type HoldKind = (typeof HOLD_KINDS)[number];

/** The FHIR R4 ObservationStatus codes that the gateway uses. */
export const OBSERVATION_STATUSES = [
  'preliminary',
  'final',
  'amended',
  'corrected',
  'entered-in-error',
  'cancelled',
] as const;
export type ObservationStatus = (typeof OBSERVATION_STATUSES)[number];

/** Administrative gender as the register has it (FHIR); null: nothing is told. */
export type Gender = 'male' | 'female' | 'other' | 'unknown' | null;
