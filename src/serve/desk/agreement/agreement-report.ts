/** What the page and its table for spreadsheets tell, from one look into the database. */
import { findComparedPairs } from '../../../store/agreement-pairs.js';
import type { PairSearch } from '../../../store/agreement-pairs.js';
import type { NamePerson } from '../figures/name-people.js';
import type { FiguresServices } from '../figures/services.js';
import { countAgreement, driftState, findDrift } from './agreement-figures.js';
import type { Counted, Drift, DriftState } from './agreement-figures.js';
import { deviceName } from './agreement-query.js';
import type { AgreementQuery, Grouping } from './agreement-query.js';
import { comparePairs } from './compare-pairs.js';
import type { Comparison, Difference } from './compare-pairs.js';

/** So far apart in time the rules compare two readings too. */
export const WINDOW_MINUTES = 5;

/** Rows of a table of groups, the largest groups first. */
const MOST_GROUPS = 100;

export interface Group extends Counted {
  /** As the address names it; empty: those that name none. */
  readonly key: string;
  readonly label: string;
  readonly drift: DriftState;
}

/** A band of what was measured, upper end excluded. */
export interface SizeBand extends Counted {
  readonly from: number;
  readonly to: number;
}

export interface AgreementReport {
  readonly query: AgreementQuery;
  readonly comparison: Comparison;
  readonly overall: Counted;
  readonly bands: readonly SizeBand[];
  readonly groups: readonly Group[];
  /** Groups that are not listed. */
  readonly moreGroups: number;
  /** Of one device; null where no device was asked for, or there are too few pairs. */
  readonly drift: Drift | null;
}

const NOBODY = { key: '', label: 'not told' };

type NameGroup = (difference: Difference) => { readonly key: string; readonly label: string };

function groupNames(namePerson: NamePerson): Readonly<Record<Grouping, NameGroup>> {
  return {
    device: ({ device }) =>
      device === null ? NOBODY : { key: deviceName(device), label: device.value },
    ward: ({ ward }) => (ward === null ? NOBODY : { key: ward, label: ward }),
    person: ({ personId, person }) =>
      personId === null || person === null
        ? NOBODY
        : { key: personId, label: namePerson({ personId, person }) },
  };
}

function groupDifferences(differences: readonly Difference[], nameOf: NameGroup): Group[] {
  const found = new Map<string, { label: string; members: Difference[] }>();
  for (const difference of differences) {
    const { key, label } = nameOf(difference);
    const group = found.get(key);
    if (group === undefined) found.set(key, { label, members: [difference] });
    else group.members.push(difference);
  }
  return [...found]
    .map(([key, { label, members }]) => ({
      ...{ key, label },
      ...countAgreement(members),
      drift: driftState(findDrift(members)),
    }))
    .sort((a, b) => b.pairs - a.pairs || (a.label < b.label ? -1 : 1));
}

const BANDS = {
  systolic: [0, 100, 120, 140, 160, 400],
  diastolic: [0, 60, 70, 80, 90, 300],
  pulse: [0, 60, 80, 100, 120, 400],
} as const;

function bandsOf(differences: readonly Difference[], { sign }: AgreementQuery): SizeBand[] {
  const ends = BANDS[sign];
  return ends.slice(1).map((to, at) => {
    const from = ends[at] ?? 0;
    return {
      from,
      to,
      ...countAgreement(differences.filter(({ mean }) => mean >= from && mean < to)),
    };
  });
}

/** @throws SearchTooBroad when the database does not come to an end with it in time. */
export async function makeAgreementReport(
  { pool, speaksOfOthers }: FiguresServices,
  query: AgreementQuery,
  namePerson: NamePerson,
): Promise<AgreementReport> {
  const { period, device, ward, personId, sign, by, withTakenBack } = query;
  const search: PairSearch = {
    sign: sign === 'pulse' ? 'pulse-rate' : 'blood-pressure',
    ...{ fromMs: period.fromMs, toMs: period.toMs, windowMs: WINDOW_MINUTES * 60_000 },
    ...{ device, place: ward, personId },
  };
  const found = await findComparedPairs(pool, search);
  const comparison = comparePairs(found, { sign, withTakenBack, speaksOfOthers });
  const { differences } = comparison;
  const groups = groupDifferences(differences, groupNames(namePerson)[by]);
  return {
    ...{ query, comparison },
    overall: countAgreement(differences),
    bands: bandsOf(differences, query),
    groups: groups.slice(0, MOST_GROUPS),
    moreGroups: Math.max(0, groups.length - MOST_GROUPS),
    drift: device === undefined ? null : findDrift(differences),
  };
}
