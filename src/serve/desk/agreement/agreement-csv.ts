import { cellOf } from '../figures/send-figures.js';
import type { FiguresTable } from '../figures/send-figures.js';
import type { Counted } from './agreement-figures.js';
import type { AgreementReport } from './agreement-report.js';
import { SIGN_WORDS } from './agreement-words.js';

const HEAD = [
  ...['compared', 'unit', 'from', 'to', 'listed_by', 'name', 'pairs', 'patients'],
  ...['bias', 'bias_low', 'bias_high', 'sd', 'lower_limit', 'lower_limit_low', 'lower_limit_high'],
  ...['upper_limit', 'upper_limit_low', 'upper_limit_high', 'within_5', 'within_10', 'within_15'],
  ...['sd_between_patients', 'sd_within_patients', 'drift', 'drift_since'],
];

const FIGURES = 15;

function numbersOf({ figures }: Counted): (number | null)[] {
  if (figures === null) return Array<null>(FIGURES).fill(null);
  const { agreement, shares } = figures;
  const { limits, biasInterval, lowerInterval, upperInterval } = agreement;
  return [
    ...[agreement.bias, biasInterval.low, biasInterval.high, agreement.standardDeviation],
    ...[limits.low, lowerInterval.low, lowerInterval.high],
    ...[limits.high, upperInterval.low, upperInterval.high],
    ...[shares.within5, shares.within10, shares.within15],
    ...[agreement.betweenPatients, agreement.withinPatients],
  ].map(cellOf);
}

/** One row for all pairs, one for each group. No reading, and nothing of a patient. */
export function agreementTable({ query, overall, groups }: AgreementReport): FiguresTable {
  const { name, unit } = SIGN_WORDS[query.sign];
  const { from, to } = query.period;
  const rowOf = (label: string, counted: Counted, drift: string, since: string | null) => [
    ...[name, unit, from, to, query.by, label],
    ...[counted.pairs, counted.patients],
    ...numbersOf(counted),
    ...[drift, since],
  ];
  const rows = [
    rowOf('all', overall, '', null),
    ...groups.map((group) => {
      const { state, sinceMs } = group.drift;
      const since = sinceMs === null ? null : new Date(sinceMs).toISOString();
      return rowOf(group.label, group, state, since);
    }),
  ];
  return { head: HEAD, rows };
}
