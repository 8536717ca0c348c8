/** A reading against a known value: pass or fail for each part, by exact decimals. */
import { Decimal } from 'decimal.js';
import type { Limits } from '../vitals/limits.js';
import { sourceText } from '../vitals/limits-sources.js';
import type { ReferencePart, ReferenceTolerance } from '../vitals/reference-check.js';
import type { Fault, Reading } from '../vitals/shapes.js';
import { PARTS } from '../vitals/words.js';
import type { Part } from '../vitals/words.js';

const OF_THE_CHECK = 'given with the check';

/** What is compared: both in the canonical unit of the sign. */
export interface ReferenceComparison {
  readonly reading: Reading;
  readonly setValue: Reading;
  /** Null: the site's setting, where there is one for the part. */
  readonly tolerance: ReferenceTolerance | null;
  readonly limits: Limits;
}

export type ReferenceJudgement =
  | { readonly ok: true; readonly parts: readonly ReferencePart[] }
  | { readonly ok: false; readonly faults: readonly Fault[] };

/** Holds each part that has a known value against it; what cannot be compared is a fault of the body. */
export function judgeReference(comparison: ReferenceComparison): ReferenceJudgement {
  const { reading, setValue } = comparison;
  const faults = [...faultsOf(reading, '/reading'), ...faultsOf(setValue, '/setValue')];
  if (faults.length > 0) return { ok: false, faults };
  const parts: ReferencePart[] = [];
  for (const part of PARTS) {
    const [read, set] = [reading.values[part], setValue.values[part]];
    if (set === undefined) continue;
    const tolerance = comparison.tolerance ?? siteTolerance(part, comparison.limits);
    if (read === undefined)
      faults.push(lacking(`/setValue/${part}`, 'the reading has no such part'));
    else if (set.number <= 0) faults.push(lacking(`/setValue/${part}`, 'must be more than 0'));
    else if (tolerance === null) {
      faults.push(lacking('', `"tolerance" is missing: the site has set none for ${part}`));
    } else parts.push(compare(part, read.text, set.text, tolerance));
  }
  return faults.length > 0 ? { ok: false, faults } : { ok: true, parts };
}

function lacking(pointer: string, message: string): Fault {
  return { pointer, message };
}

function faultsOf({ faults, values }: Reading, pointer: string): Fault[] {
  const [fault] = faults;
  if (fault !== undefined) {
    const member = {
      'unit-unknown': 'unit',
      'method-not-taken': 'method',
      'site-not-taken': 'site',
    };
    return [lacking(`${pointer}/${member[fault]}`, 'is none that this sign takes')];
  }
  return Object.keys(values).length === 0 ? [lacking(pointer, 'has no number to compare')] : [];
}

type SourcedTolerance = ReferenceTolerance & { readonly source?: string };

function siteTolerance(part: Part, limits: Limits): SourcedTolerance | null {
  if (part !== 'systolic' && part !== 'diastolic') return null;
  const { at, source } = limits.setting(`reference-check.${part}`);
  return { percent: at, source: sourceText(source) };
}

function compare(
  part: Part,
  read: string,
  set: string,
  tolerance: SourcedTolerance,
): ReferencePart {
  const difference = new Decimal(read).minus(set);
  const allowed =
    'percent' in tolerance
      ? new Decimal(set).times(tolerance.percent).dividedBy(100)
      : new Decimal(tolerance.amount);
  return {
    part,
    set,
    read,
    difference: difference.toFixed(),
    tolerance: { ...tolerance, source: tolerance.source ?? OF_THE_CHECK },
    passed: difference.abs().lessThanOrEqualTo(allowed),
  };
}
