/**
 * What can be a measurement at all (reject) and what is too improbable to pass alone (hold).
 *
 * Every comparison is exclusive: a value equal to a bound passes it. Reject bounds are the same at every
 * age; only hold bounds follow the age. The published tables disagree by a factor of two and more, and
 * some would discard survivable values, so the bounds are wide and most are marked as proposed.
 */
import type { Age } from './age.js';
import {
  ARTEFACT_RULE,
  CUFF_STANDARD,
  limit,
  MIMIC_BENCHMARK,
  MIMIC_CODE,
  OHDSI,
  OXIMETER_RANGE,
  PROPOSED,
  proposedAfter,
  RICU,
  VERSMOLD,
  type Limit,
} from './limits-sources.js';
import type { Method, Part, Vital } from './words.js';

export interface PlausibleLimits {
  readonly rejectBelow: Limit | null;
  readonly holdBelow: Limit | null;
  readonly holdAbove: Limit | null;
  readonly rejectAbove: Limit | null;
}

type HoldLimits = Pick<PlausibleLimits, 'holdBelow' | 'holdAbove'>;

/** Under 1 year; 1 to 12 years; from 13 years. An age that is not known has the widest of all. */
type HoldBand = 'infant' | 'child' | 'adult' | 'unknown';

type PlausibleRow = Readonly<Record<HoldBand, PlausibleLimits>>;

interface RowAsWritten extends PlausibleLimits {
  readonly infant?: Partial<HoldLimits>;
  readonly child?: Partial<HoldLimits>;
}

function widest(
  limits: readonly (Limit | null)[],
  pick: (a: Limit, b: Limit) => Limit,
): Limit | null {
  return limits.reduce((a, b) => (a === null || b === null ? null : pick(a, b)));
}

function row({ infant = {}, child = {}, ...adult }: RowAsWritten): PlausibleRow {
  const bands = { adult, infant: { ...adult, ...infant }, child: { ...adult, ...child } };
  const all = Object.values(bands);
  const lowest = (a: Limit, b: Limit): Limit => (b.at < a.at ? b : a);
  const highest = (a: Limit, b: Limit): Limit => (b.at > a.at ? b : a);
  const unknown = {
    ...adult,
    holdBelow: widest(
      all.map(({ holdBelow }) => holdBelow),
      lowest,
    ),
    holdAbove: widest(
      all.map(({ holdAbove }) => holdAbove),
      highest,
    ),
  };
  return { ...bands, unknown };
}

const SYSTOLIC_BY_AGE = {
  infant: { holdBelow: limit(25, PROPOSED), holdAbove: limit(150, CUFF_STANDARD) },
  child: { holdBelow: limit(45, PROPOSED), holdAbove: limit(200, PROPOSED) },
};

const PRESSURE_ROWS = {
  systolic: row({
    rejectBelow: limit(20, ARTEFACT_RULE),
    holdBelow: limit(40, PROPOSED),
    holdAbove: limit(250, proposedAfter(OHDSI)),
    rejectAbove: limit(300, RICU),
    ...SYSTOLIC_BY_AGE,
  }),
  'systolic-invasive': row({
    rejectBelow: limit(1, proposedAfter(MIMIC_BENCHMARK)),
    holdBelow: limit(40, PROPOSED),
    holdAbove: limit(250, proposedAfter(OHDSI)),
    rejectAbove: limit(375, MIMIC_BENCHMARK),
    ...SYSTOLIC_BY_AGE,
  }),
  diastolic: row({
    rejectBelow: limit(0, proposedAfter(MIMIC_BENCHMARK)),
    holdBelow: limit(20, PROPOSED),
    holdAbove: limit(200, OHDSI),
    rejectAbove: limit(225, ARTEFACT_RULE),
    // At 750 g the usual diastolic reaches from 14 to 34 mmHg: 20 would hold the healthy.
    infant: { holdBelow: limit(10, proposedAfter(VERSMOLD)) },
  }),
  mean: row({
    rejectBelow: limit(10, OHDSI),
    holdBelow: limit(30, PROPOSED),
    holdAbove: limit(190, PROPOSED),
    rejectAbove: limit(250, RICU),
    // The usual mean of a newborn of 750 g reaches from 24 to 42 mmHg.
    infant: { holdBelow: limit(15, proposedAfter(VERSMOLD)) },
  }),
};

const VALUE_ROWS = {
  'pulse-rate': row({
    rejectBelow: limit(0, MIMIC_BENCHMARK),
    holdBelow: limit(25, OXIMETER_RANGE),
    holdAbove: limit(250, OXIMETER_RANGE),
    rejectAbove: limit(350, MIMIC_BENCHMARK),
    infant: { holdBelow: limit(50, PROPOSED) },
    child: { holdBelow: limit(40, PROPOSED) },
  }),
  'respiratory-rate': row({
    rejectBelow: limit(0, MIMIC_BENCHMARK),
    // No breath at all, by any method: apnoea. From 1 a minute on it is a value to act on, not to doubt.
    holdBelow: limit(1, PROPOSED),
    holdAbove: limit(70, MIMIC_CODE),
    rejectAbove: limit(150, proposedAfter(RICU)),
    infant: { holdAbove: limit(100, proposedAfter(OHDSI)) },
    child: { holdAbove: limit(80, PROPOSED) },
  }),
  'oxygen-saturation': row({
    rejectBelow: limit(0, MIMIC_BENCHMARK),
    holdBelow: limit(50, RICU),
    holdAbove: null,
    rejectAbove: limit(100, RICU),
  }),
  'body-temperature': row({
    rejectBelow: limit(10, MIMIC_CODE),
    // Not higher: true hypothermia was survived far below the floors of the research tables.
    holdBelow: limit(26, MIMIC_BENCHMARK),
    holdAbove: limit(42, RICU),
    rejectAbove: limit(47, MIMIC_BENCHMARK),
  }),
  'body-weight': row({
    rejectBelow: limit(0.2, OHDSI),
    holdBelow: limit(0.4, PROPOSED),
    holdAbove: limit(250, MIMIC_BENCHMARK),
    rejectAbove: limit(680, OHDSI),
  }),
  'body-height': row({
    rejectBelow: limit(20, OHDSI),
    holdBelow: limit(25, PROPOSED),
    holdAbove: limit(230, RICU),
    rejectAbove: limit(275, MIMIC_BENCHMARK),
  }),
  'oxygen-flow': row({
    rejectBelow: limit(0, PROPOSED),
    holdBelow: null,
    // High-flow nasal oxygen ends at about 70 L/min.
    holdAbove: limit(70, PROPOSED),
    rejectAbove: limit(150, PROPOSED),
  }),
  'inspired-oxygen': row({
    rejectBelow: limit(10, PROPOSED),
    // Room air is 20.9 %.
    holdBelow: limit(20, PROPOSED),
    holdAbove: null,
    rejectAbove: limit(100, PROPOSED),
  }),
};

function holdBand(age: Age | null): HoldBand {
  if (age === null) return 'unknown';
  const oldest = holdBandOf(age.oldest.months);
  return age.youngest === age.oldest || holdBandOf(age.youngest.months) === oldest
    ? oldest
    : 'unknown';
}

function holdBandOf(months: number): HoldBand {
  if (months < 12) return 'infant';
  return months < 13 * 12 ? 'child' : 'adult';
}

/** Bounds of one number of a sign; values and bounds in the sign's canonical unit. */
export function plausibleLimits(
  vital: Exclude<Vital, 'consciousness'>,
  part: Part,
  method: Method | null,
  age: Age | null,
): PlausibleLimits {
  const band = holdBand(age);
  if (vital !== 'blood-pressure') return VALUE_ROWS[vital][band];
  if (part === 'systolic' && method === 'invasive') return PRESSURE_ROWS['systolic-invasive'][band];
  return PRESSURE_ROWS[part === 'value' ? 'systolic' : part][band];
}

/** What a zero says where it is no measurement: the method decides. */
export type ZeroMeaning = 'no-signal' | 'heard-to-zero';

/**
 * A zero from an oximeter or a cuff is a device without a signal. A pulse of zero by hand, by
 * electrocardiography or from an arterial line may be true, and so may a rate of breathing of zero by
 * any method: the hold bounds take them. Sounds that are heard down to zero are a known finding.
 */
export function zeroMeaning(vital: Vital, part: Part, method: Method | null): ZeroMeaning | null {
  if (vital === 'oxygen-saturation') return 'no-signal';
  if (vital === 'pulse-rate') {
    return method === 'pulse-oximetry' || method === 'oscillometry' ? 'no-signal' : null;
  }
  if (vital !== 'blood-pressure') return null;
  if (method === 'oscillometry' || method === 'invasive') return 'no-signal';
  return part === 'diastolic' && method === 'auscultation' ? 'heard-to-zero' : null;
}
