/**
 * What a changed configuration would have changed, counted while sets are judged twice: once by the
 * edition that judged them, once by the changed one. Pure, and bounded: a line a rule, direction and
 * ward, with a few readings each.
 */
import type { TrialReport } from '../vitals/trial-report.js';
import type { Finding, JudgedReading, JudgedSet } from '../vitals/shapes.js';
import type { Verdict } from '../vitals/words.js';

/** Wards beyond this many are counted together. */
const MAX_WARDS = 200;
const OTHER_WARDS = 'other wards';

/** Where a set was taken and what its readings are called. */
export interface TrialPlace {
  readonly location: string | null;
  readonly readingId: (index: number) => string;
  /** Readings that are noted by rules which were not asked, whatever else is said of them. */
  readonly noted: ReadonlySet<number>;
}

interface OpenLine {
  readonly rule: string;
  readonly from: Verdict;
  readonly to: Verdict;
  readonly ward: string | null;
  readings: number;
  readonly examples: string[];
}

export class TrialTally {
  #sets = 0;
  #unreadable = 0;
  #readings = 0;
  #changed = 0;
  #otherPublication = 0;
  #otherInterpretation = 0;
  #otherReleases = 0;
  readonly #directions = new Map<string, { from: Verdict; to: Verdict; readings: number }>();
  readonly #lines = new Map<string, OpenLine>();
  readonly #wards = new Set<string>();
  readonly #maxExamples: number;

  constructor(maxExamples: number) {
    this.#maxExamples = maxExamples;
  }

  get sets(): number {
    return this.#sets;
  }

  /** Sets that could not be judged because their bytes can no longer be read as a set. */
  addUnreadable(sets: number): void {
    this.#unreadable += sets;
  }

  /** Counts one set, judged by its own edition and by the changed configuration. */
  add(place: TrialPlace, own: JudgedSet, changed: JudgedSet): void {
    this.#sets += 1;
    this.#readings += own.readings.length;
    this.#otherReleases += releasesThatDiffer(own, changed);
    own.readings.forEach((before, i) => {
      const after = changed.readings[i];
      if (after !== undefined) this.#compare(place, before, after);
    });
  }

  report(): TrialReport {
    const most = (a: { readings: number }, b: { readings: number }): number =>
      b.readings - a.readings;
    return {
      sets: this.#sets,
      unreadable: this.#unreadable,
      readings: this.#readings,
      changed: this.#changed,
      otherPublication: this.#otherPublication,
      otherInterpretation: this.#otherInterpretation,
      otherReleases: this.#otherReleases,
      byDirection: [...this.#directions.values()].sort(most),
      byRule: [...this.#lines.values()].sort(most),
    };
  }

  #compare(place: TrialPlace, before: JudgedReading, after: JudgedReading): void {
    if ((before.status === null) !== (after.status === null)) this.#otherPublication += 1;
    if (interpretationOf(before) !== interpretationOf(after)) this.#otherInterpretation += 1;
    const noted = place.noted.has(before.reading.index);
    const direction = { from: verdictOf(before, noted), to: verdictOf(after, noted) };
    if (direction.from === direction.to) return;
    this.#changed += 1;
    const name = `${direction.from} ${direction.to}`;
    const counted = this.#directions.get(name) ?? { ...direction, readings: 0 };
    counted.readings += 1;
    this.#directions.set(name, counted);
    const ward = this.#wardOf(place.location);
    const id = place.readingId(before.reading.index);
    for (const rule of rulesThatDiffer(before.findings, after.findings)) {
      const line = this.#lineOf(rule, direction.from, direction.to, ward);
      line.readings += 1;
      if (line.examples.length < this.#maxExamples) line.examples.push(id);
    }
  }

  #lineOf(rule: string, from: Verdict, to: Verdict, ward: string | null): OpenLine {
    const key = JSON.stringify([rule, from, to, ward]);
    const known = this.#lines.get(key);
    if (known !== undefined) return known;
    const line = { rule, from, to, ward, readings: 0, examples: [] };
    this.#lines.set(key, line);
    return line;
  }

  #wardOf(location: string | null): string | null {
    if (location === null) return null;
    const [ward = location] = location.split('/', 1);
    if (this.#wards.has(ward)) return ward;
    if (this.#wards.size >= MAX_WARDS) return OTHER_WARDS;
    this.#wards.add(ward);
    return ward;
  }
}

function releasesThatDiffer(own: JudgedSet, changed: JudgedSet): number {
  if (own.resolved.length === 0 && changed.resolved.length === 0) return 0;
  const [before, after] = [own, changed].map(
    ({ resolved }) => new Set(resolved.map(({ readingId }) => readingId)),
  );
  return (
    [...(before ?? [])].filter((id) => after?.has(id) !== true).length +
    [...(after ?? [])].filter((id) => before?.has(id) !== true).length
  );
}

function verdictOf({ verdict }: JudgedReading, noted: boolean): Verdict {
  return noted && verdict === 'accepted' ? 'noted' : verdict;
}

function interpretationOf({ interpretation }: JudgedReading): string {
  const { value, systolic, diastolic, mean } = interpretation;
  return `${value ?? ''}/${systolic ?? ''}/${diastolic ?? ''}/${mean ?? ''}`;
}

/** Rules of which one judgement has a finding of a verdict that the other has not. */
function rulesThatDiffer(before: readonly Finding[], after: readonly Finding[]): string[] {
  const said = (findings: readonly Finding[]): Set<string> =>
    new Set(findings.map(({ rule, verdict }) => `${rule} ${verdict}`));
  const [own, changed] = [said(before), said(after)];
  const differing = [...own, ...changed].filter((one) => !(own.has(one) && changed.has(one)));
  return [...new Set(differing.map((one) => one.slice(0, one.lastIndexOf(' '))))];
}
