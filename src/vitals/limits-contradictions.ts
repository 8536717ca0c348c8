/**
 * Whether the limits of an edition make sense together. The defaults must pass as well: a wrong table
 * harms as much as a wrong configuration.
 */
import { inMonths, type AgeBound } from './age-span.js';
import { BAND_CODES, type BandCode, type BandRow } from './limits-band.js';
import { BAND_DEFAULTS, bandId, beginOf, type BandDefaults, type SexKey } from './limits-bands.js';
import {
  HOLD_AGES,
  PLAUSIBLE_DEFAULTS,
  plausibleId,
  type HoldAge,
  type PlausibleBound,
  type PlausibleDefaults,
} from './limits-plausible.js';
import type { CurrentSetting, Limits } from './limits.js';
import { SANE_RANGES } from './setting.js';
import type { Fault } from './shapes.js';

/** Settings by id, and a place to say what is wrong with two of them. */
class Complaints {
  readonly #settings: ReadonlyMap<string, CurrentSetting>;
  readonly #unsound: ReadonlySet<string>;
  readonly #faults = new Map<string, Fault>();

  constructor({ all }: Limits, unsound: ReadonlySet<string>) {
    this.#settings = new Map(all.map((each) => [each.id, each]));
    this.#unsound = unsound;
  }

  get faults(): readonly Fault[] {
    return [...this.#faults.values()];
  }

  find(id: string | null): CurrentSetting | null {
    return id === null ? null : (this.#settings.get(id) ?? null);
  }

  /** One fault a kind and pair, at the setting that the site has changed. */
  add(kind: string, at: CurrentSetting, other: CurrentSetting | null, message: string): void {
    if (this.#unsound.has(at.id) || (other !== null && this.#unsound.has(other.id))) return;
    const where = at.changed || other?.changed !== true ? at : other;
    this.#faults.set(`${kind} ${at.id} ${other?.id ?? ''}`, {
      pointer: `/settings/${where.id}/at`,
      message,
    });
  }

  /** The first must not be greater than the second (or, `apart`, not equal to it either). */
  inOrder(low: string | null, high: string | null, apart: boolean, because: string): void {
    const [a, b] = [this.find(low), this.find(high)];
    if (a === null || b === null || (apart ? a.at < b.at : a.at <= b.at)) return;
    const must = apart ? 'must be below' : 'must not be above';
    this.add('order', a, b, `${named(a)} ${must} ${named(b)}: ${because}`);
  }
}

/** "pulse-methods-differ.difference (10 /min)". */
function named({ id, at, unit }: CurrentSetting): string {
  return unit === '1' ? `${id} (${at})` : `${id} (${at} ${unit})`;
}

/**
 * Every contradiction between the limits, each at the setting that the site has changed.
 * @param unsound ids of settings whose own form is at fault: nothing is said that rests on them
 */
export function contradictions(
  limits: Limits,
  unsound: ReadonlySet<string> = new Set(),
): readonly Fault[] {
  const complaints = new Complaints(limits, unsound);
  for (const setting of limits.all) {
    checkRange(setting, complaints);
    checkNeighbours(setting, complaints);
  }
  for (const row of PLAUSIBLE_DEFAULTS) {
    checkNesting(row, complaints);
    checkDefaultHolds(row, complaints);
    checkAgainstCritical(row, complaints);
  }
  for (const table of BAND_DEFAULTS) {
    for (const row of table.rows) checkBand(table, row, complaints);
  }
  checkUnitTraps(complaints);
  return complaints.faults;
}

function checkRange(setting: CurrentSetting, complaints: Complaints): void {
  const [least, most] = setting.range ?? SANE_RANGES[setting.unit];
  if (setting.at >= least && setting.at <= most) return;
  const from = setting.unit === '1' ? '' : ` ${setting.unit}`;
  complaints.add(
    'range',
    setting,
    null,
    `${named(setting)} must be from ${least} to ${most}${from}`,
  );
}

function checkNeighbours(setting: CurrentSetting, complaints: Complaints): void {
  const because = setting.words.replace(/\.$/, '');
  for (const id of setting.notBelow ?? []) complaints.inOrder(id, setting.id, false, because);
  for (const id of setting.above ?? []) complaints.inOrder(id, setting.id, true, because);
}

/** Reject bounds lie around hold bounds. */
function checkNesting(row: PlausibleDefaults, complaints: Complaints): void {
  const id = (bound: PlausibleBound, age: HoldAge | null = null): string =>
    plausibleId(row, bound, age);
  complaints.inOrder(id('rejectBelow'), id('rejectAbove'), true, 'no value could pass');
  for (const age of HOLD_AGES) {
    const because = 'what is held must be possible';
    complaints.inOrder(id('rejectBelow'), id('holdBelow', age), false, because);
    complaints.inOrder(id('holdAbove', age), id('rejectAbove'), false, because);
    complaints.inOrder(
      id('holdBelow', age),
      id('holdAbove', age),
      true,
      'every value would be held',
    );
  }
}

/**
 * What the gateway itself only doubts no site may reject. Where it doubts nothing on a side, its own
 * reject bound stands.
 */
function checkDefaultHolds(row: PlausibleDefaults, complaints: Complaints): void {
  for (const low of [true, false]) {
    const reject = complaints.find(plausibleId(row, low ? 'rejectBelow' : 'rejectAbove', null));
    if (reject === null) continue;
    const holds = HOLD_AGES.flatMap(
      (age) =>
        complaints.find(plausibleId(row, low ? 'holdBelow' : 'holdAbove', age))?.default.at ?? [],
    );
    const widest = low
      ? Math.min(...(holds.length === 0 ? [reject.default.at] : holds))
      : Math.max(...(holds.length === 0 ? [reject.default.at] : holds));
    if (low ? reject.at <= widest : reject.at >= widest) continue;
    const words = `${named(reject)} must not be ${low ? 'above' : 'below'} ${widest} ${reject.unit}: by default such a value is at most held, so it must not be rejected`;
    complaints.add('default', reject, null, words);
  }
}

/**
 * Whatever is held or rejected for its size must be critical, step by step of the sign's resolution: only
 * a critical value is published while it is held.
 */
function checkAgainstCritical(row: PlausibleDefaults, complaints: Complaints): void {
  const table = BAND_DEFAULTS.find(({ vital, part }) => vital === row.vital && part === row.part);
  if (table === undefined) return;
  const step = table.decimals === 0 ? 1 : 0.1;
  for (const band of table.rows) {
    const low = complaints.find(cellId(table, band, 'any', 'criticalLow'));
    const high = complaints.find(cellId(table, band, 'any', 'criticalHigh'));
    for (const { bound, id } of boundsAt(row, table, band)) {
      const setting = complaints.find(id);
      if (setting === null) continue;
      const below = bound === 'holdBelow' || bound === 'rejectBelow';
      const critical = below ? low : high;
      if (critical === null) continue;
      const reach = below ? setting.at - critical.at : critical.at - setting.at;
      if (Math.round((reach - step) * 1e6) <= 0) continue;
      const words = `${named(setting)} reaches between the critical limits, beyond ${named(critical)}: a value that is not critical would be kept back`;
      complaints.add('critical', setting, critical, words);
    }
  }
}

/** The bounds in force at some age of a band. */
function boundsAt(
  row: PlausibleDefaults,
  table: BandDefaults,
  band: BandRow,
): readonly { readonly bound: PlausibleBound; readonly id: string }[] {
  const begin = beginOf(table.rows, band);
  const ages = HOLD_AGES.filter(({ from, until }) => overlap([begin, band.until], [from, until]));
  return [
    ...(['rejectBelow', 'rejectAbove'] as const).map((bound) => ({
      bound,
      id: plausibleId(row, bound, null),
    })),
    ...ages.flatMap((age) =>
      (['holdBelow', 'holdAbove'] as const).map((bound) => ({
        bound,
        id: plausibleId(row, bound, age),
      })),
    ),
  ];
}

type Span = readonly [from: AgeBound | null, until: AgeBound | null];

function overlap([aFrom, aUntil]: Span, [bFrom, bUntil]: Span): boolean {
  const from = (bound: AgeBound | null): number => (bound === null ? 0 : inMonths(bound));
  const until = (bound: AgeBound | null): number => (bound === null ? Infinity : inMonths(bound));
  return from(aFrom) < until(bUntil) && from(bFrom) < until(aUntil);
}

/** The id of the cell that holds for a sex; null where the band has no such code. */
function cellId(table: BandDefaults, row: BandRow, sex: SexKey, code: BandCode): string | null {
  const written = row[code];
  if (written === null) return null;
  return bandId(table, row, 'at' in written ? 'any' : sex, code);
}

/** LL below L below H below HH; N may be a single value. */
function checkBand(table: BandDefaults, row: BandRow, complaints: Complaints): void {
  for (const sex of ['male', 'female'] as const) {
    const ids = BAND_CODES.map((code) => cellId(table, row, sex, code));
    ids.forEach((lower, at) => {
      ids.slice(at + 1).forEach((higher) => {
        const usual = at === 1 && higher === ids[2];
        complaints.inOrder(lower, higher, !usual, 'the limits of a band rise from LL to HH');
      });
    });
  }
}

/** What reads as another unit is rejected: it must not be a possible value of the sign. */
function checkUnitTraps(complaints: Complaints): void {
  const bound = (which: PlausibleBound): CurrentSetting | null =>
    complaints.find(
      plausibleId({ vital: 'body-temperature', part: 'value', by: 'any' }, which, null),
    );
  const fahrenheit = complaints.find('fahrenheit-suspected.from');
  const highest = bound('rejectAbove');
  if (fahrenheit !== null && highest !== null && fahrenheit.at <= highest.at) {
    const words = `${named(fahrenheit)} must be above ${named(highest)}: a possible temperature would be rejected as Fahrenheit`;
    complaints.add('trap', fahrenheit, highest, words);
  }
  const celsius = complaints.find('celsius-suspected.below');
  const lowest = bound('rejectBelow');
  if (celsius !== null && lowest !== null && ((celsius.at - 32) * 5) / 9 > lowest.at + 1e-6) {
    const words = `${named(celsius)} must not be above ${named(lowest)}, converted: a possible temperature would be rejected as Celsius`;
    complaints.add('trap', celsius, lowest, words);
  }
}
