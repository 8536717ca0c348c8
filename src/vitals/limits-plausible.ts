/**
 * What can be a measurement at all (reject) and what is too improbable to pass alone (hold).
 *
 * Every comparison is exclusive: a value equal to a bound passes it. Reject bounds are the same at every
 * age; only hold bounds follow the age. The published tables disagree by a factor of two and more, and
 * some would discard survivable values, so the bounds are wide and most are marked as proposed.
 */
import { agesKey, type Age, type AgeBound } from './age-span.js';
import { CATALOGUE } from './catalogue.js';
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
import type { Setting, SettingUnit } from './setting.js';
import type { Method, Part, Vital } from './words.js';

export const PLAUSIBLE_BOUNDS = ['rejectBelow', 'holdBelow', 'holdAbove', 'rejectAbove'] as const;
export type PlausibleBound = (typeof PLAUSIBLE_BOUNDS)[number];
export type PlausibleLimits = Readonly<Record<PlausibleBound, Limit | null>>;

type HoldLimits = Pick<PlausibleLimits, 'holdBelow' | 'holdAbove'>;

/** A sign that is a number. */
export type NumberSign = Exclude<Vital, 'consciousness'>;

/** Of an adult, and where a younger one's hold bounds are other ones. */
interface RowAsWritten extends PlausibleLimits {
  readonly infant?: Partial<HoldLimits>;
  readonly child?: Partial<HoldLimits>;
}

/** Which readings a row is for: those by arterial line, all others, or whatever the method. */
export interface PlausibleDefaults extends RowAsWritten {
  readonly vital: NumberSign;
  readonly part: Part;
  readonly by: 'cuff' | 'invasive' | 'any';
}

/** The ages that have hold bounds of their own, `until` not included. */
export const HOLD_AGES: readonly {
  readonly of: 'infant' | 'child' | 'adult';
  readonly from: AgeBound | null;
  readonly until: AgeBound | null;
  readonly label: string;
}[] = [
  { of: 'infant', from: null, until: { months: 12 }, label: 'under 1 year' },
  { of: 'child', from: { months: 12 }, until: { months: 156 }, label: '1 to 12 years' },
  { of: 'adult', from: { months: 156 }, until: null, label: 'from 13 years' },
];

const SYSTOLIC_BY_AGE = {
  infant: { holdBelow: limit(25, PROPOSED), holdAbove: limit(150, CUFF_STANDARD) },
  child: { holdBelow: limit(45, PROPOSED), holdAbove: limit(200, PROPOSED) },
};

const PRESSURE_ROWS = {
  systolic: {
    rejectBelow: limit(20, ARTEFACT_RULE),
    holdBelow: limit(40, PROPOSED),
    holdAbove: limit(250, proposedAfter(OHDSI)),
    rejectAbove: limit(300, RICU),
    ...SYSTOLIC_BY_AGE,
  },
  'systolic-invasive': {
    rejectBelow: limit(1, proposedAfter(MIMIC_BENCHMARK)),
    holdBelow: limit(40, PROPOSED),
    holdAbove: limit(250, proposedAfter(OHDSI)),
    rejectAbove: limit(375, MIMIC_BENCHMARK),
    ...SYSTOLIC_BY_AGE,
  },
  diastolic: {
    rejectBelow: limit(0, proposedAfter(MIMIC_BENCHMARK)),
    holdBelow: limit(20, PROPOSED),
    holdAbove: limit(200, OHDSI),
    rejectAbove: limit(225, ARTEFACT_RULE),
    // At 750 g the usual diastolic reaches from 14 to 34 mmHg: 20 would hold the healthy.
    infant: { holdBelow: limit(10, proposedAfter(VERSMOLD)) },
  },
  mean: {
    rejectBelow: limit(10, OHDSI),
    holdBelow: limit(30, PROPOSED),
    holdAbove: limit(190, PROPOSED),
    rejectAbove: limit(250, RICU),
    // The usual mean of a newborn of 750 g reaches from 24 to 42 mmHg.
    infant: { holdBelow: limit(15, proposedAfter(VERSMOLD)) },
  },
};

const VALUE_ROWS: Readonly<Record<Exclude<NumberSign, 'blood-pressure'>, RowAsWritten>> = {
  'pulse-rate': {
    rejectBelow: limit(0, MIMIC_BENCHMARK),
    holdBelow: limit(25, OXIMETER_RANGE),
    holdAbove: limit(250, OXIMETER_RANGE),
    rejectAbove: limit(350, MIMIC_BENCHMARK),
    infant: { holdBelow: limit(50, PROPOSED) },
    child: { holdBelow: limit(40, PROPOSED) },
  },
  'respiratory-rate': {
    rejectBelow: limit(0, MIMIC_BENCHMARK),
    // No breath at all, by any method: apnoea. From 1 a minute on it is a value to act on, not to doubt.
    holdBelow: limit(1, PROPOSED),
    holdAbove: limit(70, MIMIC_CODE),
    rejectAbove: limit(150, proposedAfter(RICU)),
    infant: { holdAbove: limit(100, proposedAfter(OHDSI)) },
    child: { holdAbove: limit(80, PROPOSED) },
  },
  'oxygen-saturation': {
    rejectBelow: limit(0, MIMIC_BENCHMARK),
    holdBelow: limit(50, RICU),
    holdAbove: null,
    rejectAbove: limit(100, RICU),
  },
  'body-temperature': {
    rejectBelow: limit(10, MIMIC_CODE),
    // Not higher: true hypothermia was survived far below the floors of the research tables.
    holdBelow: limit(26, MIMIC_BENCHMARK),
    holdAbove: limit(42, RICU),
    rejectAbove: limit(47, MIMIC_BENCHMARK),
  },
  'body-weight': {
    rejectBelow: limit(0.2, OHDSI),
    holdBelow: limit(0.4, PROPOSED),
    holdAbove: limit(250, MIMIC_BENCHMARK),
    rejectAbove: limit(680, OHDSI),
  },
  'body-height': {
    rejectBelow: limit(20, OHDSI),
    holdBelow: limit(25, PROPOSED),
    holdAbove: limit(230, RICU),
    rejectAbove: limit(275, MIMIC_BENCHMARK),
  },
  'oxygen-flow': {
    rejectBelow: limit(0, PROPOSED),
    holdBelow: null,
    // High-flow nasal oxygen ends at about 70 L/min.
    holdAbove: limit(70, PROPOSED),
    rejectAbove: limit(150, PROPOSED),
  },
  'inspired-oxygen': {
    rejectBelow: limit(10, PROPOSED),
    // Room air is 20.9 %.
    holdBelow: limit(20, PROPOSED),
    holdAbove: null,
    rejectAbove: limit(100, PROPOSED),
  },
};

export const PLAUSIBLE_DEFAULTS: readonly PlausibleDefaults[] = [
  { vital: 'blood-pressure', part: 'systolic', by: 'cuff', ...PRESSURE_ROWS.systolic },
  {
    vital: 'blood-pressure',
    part: 'systolic',
    by: 'invasive',
    ...PRESSURE_ROWS['systolic-invasive'],
  },
  { vital: 'blood-pressure', part: 'diastolic', by: 'any', ...PRESSURE_ROWS.diastolic },
  { vital: 'blood-pressure', part: 'mean', by: 'any', ...PRESSURE_ROWS.mean },
  ...Object.entries(VALUE_ROWS).map(([vital, row]) => ({
    vital: vital as NumberSign,
    part: 'value' as const,
    by: 'any' as const,
    ...row,
  })),
];

export type HoldAge = (typeof HOLD_AGES)[number];

/** The id of one bound (see `setting.ts`). Reject bounds are of every age. */
export function plausibleId(
  { vital, part, by }: Pick<PlausibleDefaults, 'vital' | 'part' | 'by'>,
  bound: PlausibleBound,
  age: HoldAge | null,
): string {
  const ages = age === null ? 'any' : agesKey(age.from, age.until);
  return `plausible.${vital}.${part}.${by}.${ages}.${bound}`;
}

export const isHoldBound = (bound: PlausibleBound): bound is 'holdBelow' | 'holdAbove' =>
  bound === 'holdBelow' || bound === 'holdAbove';

/** A bound as it comes with the gateway. */
export function defaultBound(
  row: PlausibleDefaults,
  bound: PlausibleBound,
  age: HoldAge | null,
): Limit | null {
  const own = age === null || age.of === 'adult' ? undefined : row[age.of];
  return (isHoldBound(bound) ? own?.[bound] : undefined) ?? row[bound];
}

const BOUND_WORDS: Readonly<Record<PlausibleBound, string>> = {
  rejectBelow: 'below this it is no measurement and is rejected',
  holdBelow: 'below this it is held for a second measurement',
  holdAbove: 'above this it is held for a second measurement',
  rejectAbove: 'above this it is no measurement and is rejected',
};

function signWords({ vital, part, by }: PlausibleDefaults): string {
  if (part === 'value') return CATALOGUE[vital].display;
  const name = `${part[0]?.toUpperCase() ?? ''}${part.slice(1)} pressure`;
  if (by === 'any') return name;
  return by === 'cuff' ? `${name}, not by arterial line` : `${name} by arterial line`;
}

/** Every bound as a setting. */
export const PLAUSIBLE_SETTINGS: readonly Setting[] = PLAUSIBLE_DEFAULTS.flatMap((row) =>
  PLAUSIBLE_BOUNDS.flatMap((bound) =>
    (isHoldBound(bound) ? HOLD_AGES : [null]).flatMap((age) => {
      const written = defaultBound(row, bound, age);
      if (written === null) return [];
      return {
        id: plausibleId(row, bound, age),
        ...written,
        unit: CATALOGUE[row.vital].unit as SettingUnit,
        words: `${signWords(row)}${age === null ? '' : `, ${age.label}`}: ${BOUND_WORDS[bound]}.`,
        readBy: [isHoldBound(bound) ? 'value-doubtful' : 'value-impossible'],
      };
    }),
  ),
);

/** Under 1 year; 1 to 12 years; from 13 years. An age that is not known has the widest of all. */
type HoldBand = HoldAge['of'] | 'unknown';

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

type PlausibleByAge = Readonly<Record<HoldBand, PlausibleLimits>>;

function resolveRow(row: PlausibleDefaults, resolve: (id: string) => Limit): PlausibleByAge {
  const at = (bound: PlausibleBound, age: HoldAge | null): Limit | null =>
    row[bound] === null ? null : resolve(plausibleId(row, bound, age));
  const rejects = { rejectBelow: at('rejectBelow', null), rejectAbove: at('rejectAbove', null) };
  const byAge = Object.fromEntries(
    HOLD_AGES.map((age) => [
      age.of,
      { ...rejects, holdBelow: at('holdBelow', age), holdAbove: at('holdAbove', age) },
    ]),
  ) as Readonly<Record<HoldAge['of'], PlausibleLimits>>;
  const all = Object.values(byAge);
  const widest = (bound: keyof HoldLimits, isWider: (a: number, b: number) => boolean) =>
    all
      .map((limits) => limits[bound])
      .reduce((a, b) => (a === null || b === null ? null : isWider(b.at, a.at) ? b : a));
  const unknown = {
    ...rejects,
    holdBelow: widest('holdBelow', (a, b) => a < b),
    holdAbove: widest('holdAbove', (a, b) => a > b),
  };
  return { ...byAge, unknown };
}

export type PlausibleLookup = (
  vital: NumberSign,
  part: Part,
  method: Method | null,
  age: Age | null,
) => PlausibleLimits;

/** The look-up of an edition, worked out once. */
export function buildPlausibleLookup(resolve: (id: string) => Limit): PlausibleLookup {
  const find = (vital: NumberSign, part: Part, by: PlausibleDefaults['by']): PlausibleByAge => {
    const row = PLAUSIBLE_DEFAULTS.find(
      (each) => each.vital === vital && each.part === part && each.by === by,
    );
    if (row === undefined) throw new Error(`no bounds are written for ${vital} ${part} ${by}`);
    return resolveRow(row, resolve);
  };
  const values = Object.fromEntries(
    (Object.keys(VALUE_ROWS) as (keyof typeof VALUE_ROWS)[]).map((vital) => [
      vital,
      find(vital, 'value', 'any'),
    ]),
  ) as Readonly<Record<keyof typeof VALUE_ROWS, PlausibleByAge>>;
  const invasive = find('blood-pressure', 'systolic', 'invasive');
  const systolic = find('blood-pressure', 'systolic', 'cuff');
  const pressures = {
    value: systolic,
    systolic,
    diastolic: find('blood-pressure', 'diastolic', 'any'),
    mean: find('blood-pressure', 'mean', 'any'),
  };
  return (vital, part, method, age) => {
    const band = holdBand(age);
    if (vital !== 'blood-pressure') return values[vital][band];
    if (part === 'systolic' && method === 'invasive') return invasive[band];
    return pressures[part][band];
  };
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
