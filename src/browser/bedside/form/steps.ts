/**
 * What a person does at the bed, in the order of common practice (no source). A step is one act of
 * measuring; it yields one reading, or two where an instrument shows two signs at once.
 */
import type { EnteredUnit, Method, Part, Site, Vital } from '../../../vitals/words.js';
import type { Digits } from './key-pad.js';

export const STEP_IDS = [
  'breaths',
  'pulse',
  'oximeter',
  'pressure-by-hand',
  'pressure-by-cuff',
  'temperature',
  'awareness',
  'oxygen',
  'weight',
  'height',
] as const;
export type StepId = (typeof STEP_IDS)[number];

export const FIELD_NAMES = [
  'saturation',
  'oximeter-pulse',
  'systolic',
  'diastolic',
  'mean',
  'cuff-pulse',
  'temperature',
  'flow',
  'concentration',
  'weight',
  'height',
] as const;
export type FieldName = (typeof FIELD_NAMES)[number];

export interface Field {
  readonly name: FieldName;
  readonly vital: Vital;
  readonly part: Part;
  /** The step is complete without it. */
  readonly optional: boolean;
}

/** How a step is measured, and where; a single way is given with the step itself. */
export interface Way {
  readonly method: Method | null;
  readonly sites: readonly Site[];
}

export interface Step {
  readonly id: StepId;
  readonly kind: 'count' | 'numbers' | 'code';
  /** The sign that is told as absent when the step is skipped. */
  readonly vital: Vital;
  readonly fields: readonly Field[];
  readonly ways: readonly Way[];
  readonly hasSide: boolean;
  readonly hasCuff: boolean;
  readonly asksRhythm: boolean;
  /** Steps that share their last choices: the same cuff on the same arm. */
  readonly habit: string;
  /** Part of every full set; the others are offered below. */
  readonly usual: boolean;
}

const number = (name: FieldName, vital: Vital, optional = false): Field => ({
  ...{ name, vital, optional },
  part: 'value',
});
const pressure = (part: 'systolic' | 'diastolic' | 'mean', optional = false): Field => ({
  ...{ name: part, vital: 'blood-pressure', part, optional },
});
const plain = {
  kind: 'numbers',
  fields: [],
  ways: [{ method: null, sites: [] }],
  hasSide: false,
  hasCuff: false,
  asksRhythm: false,
  usual: false,
} as const;

const LIMBS: readonly Site[] = ['upper-arm', 'forearm', 'wrist', 'thigh', 'ankle'];
const ARTERIES: readonly Site[] = [
  'radial-artery',
  'brachial-artery',
  'carotid-artery',
  'femoral-artery',
];

const ROWS: readonly (Partial<Step> & Pick<Step, 'id' | 'vital'>)[] = [
  {
    id: 'breaths',
    kind: 'count',
    vital: 'respiratory-rate',
    ways: [{ method: 'counted', sites: [] }],
    asksRhythm: true,
    usual: true,
  },
  {
    id: 'pulse',
    kind: 'count',
    vital: 'pulse-rate',
    ways: [
      { method: 'palpation', sites: ARTERIES },
      { method: 'auscultation', sites: ['apex'] },
    ],
    hasSide: true,
    asksRhythm: true,
    usual: true,
  },
  {
    id: 'oximeter',
    vital: 'oxygen-saturation',
    fields: [number('saturation', 'oxygen-saturation'), number('oximeter-pulse', 'pulse-rate')],
    ways: [
      { method: 'pulse-oximetry', sites: ['finger', 'ear', 'toe', 'forehead', 'hand', 'foot'] },
    ],
    hasSide: true,
    usual: true,
  },
  {
    id: 'pressure-by-hand',
    vital: 'blood-pressure',
    fields: [pressure('systolic'), pressure('diastolic')],
    ways: [
      { method: 'auscultation', sites: LIMBS },
      { method: 'palpation', sites: LIMBS },
    ],
    hasSide: true,
    hasCuff: true,
    habit: 'cuff',
    usual: true,
  },
  {
    id: 'pressure-by-cuff',
    vital: 'blood-pressure',
    fields: [
      pressure('systolic'),
      pressure('diastolic'),
      pressure('mean', true),
      number('cuff-pulse', 'pulse-rate', true),
    ],
    ways: [{ method: 'oscillometry', sites: LIMBS }],
    hasSide: true,
    hasCuff: true,
    habit: 'cuff',
    usual: true,
  },
  {
    id: 'temperature',
    vital: 'body-temperature',
    fields: [number('temperature', 'body-temperature')],
    ways: [
      {
        method: 'thermometry',
        sites: ['oral', 'tympanic', 'axillary', 'temporal', 'rectal', 'core'],
      },
    ],
    usual: true,
  },
  { id: 'awareness', kind: 'code', vital: 'consciousness' },
  {
    id: 'oxygen',
    vital: 'oxygen-flow',
    fields: [number('flow', 'oxygen-flow', true), number('concentration', 'inspired-oxygen', true)],
  },
  { id: 'weight', vital: 'body-weight', fields: [number('weight', 'body-weight')] },
  { id: 'height', vital: 'body-height', fields: [number('height', 'body-height')] },
];

export const STEPS: readonly Step[] = ROWS.map((row) => ({ ...plain, habit: row.id, ...row }));

export function stepOf(id: StepId): Step {
  const found = STEPS.find((step) => step.id === id);
  if (found === undefined) throw new Error(`no step ${id}`);
  return found;
}

/** Signs of a step, each once: each is one reading. */
export function vitalsOf({ fields, vital }: Step): readonly Vital[] {
  return fields.length === 0 ? [vital] : [...new Set(fields.map((field) => field.vital))];
}

/** As many digits as an instrument shows in that unit. */
const DIGITS: Readonly<Record<EnteredUnit, Digits>> = {
  '/min': { whole: 3, decimals: 0 },
  '{beats}/min': { whole: 3, decimals: 0 },
  '{breaths}/min': { whole: 3, decimals: 0 },
  '%': { whole: 3, decimals: 1 },
  'mm[Hg]': { whole: 3, decimals: 0 },
  kPa: { whole: 2, decimals: 2 },
  Cel: { whole: 3, decimals: 2 },
  '[degF]': { whole: 3, decimals: 2 },
  kg: { whole: 3, decimals: 3 },
  g: { whole: 6, decimals: 0 },
  '[lb_av]': { whole: 4, decimals: 2 },
  cm: { whole: 3, decimals: 1 },
  m: { whole: 1, decimals: 3 },
  '[in_i]': { whole: 3, decimals: 2 },
  'L/min': { whole: 3, decimals: 2 },
};

export function digitsOf(unit: EnteredUnit): Digits {
  return DIGITS[unit];
}
