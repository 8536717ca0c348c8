import type { CsvCell } from '../../pages/csv.js';
import { cellOf } from '../figures/send-figures.js';
import type { FiguresTable } from '../figures/send-figures.js';
import type { Habits, HabitsReport } from './habits-report.js';
import { INSTRUMENTS } from './instruments.js';

const HEAD = [
  ...['from', 'to', 'listed_by', 'name'],
  ...INSTRUMENTS.flatMap((instrument) =>
    ['numbers', 'zero_share', 'chi_square', 'p', 'finding'].map(
      (figure) => `${instrument.replace('-', '_')}_${figure}`,
    ),
  ),
  ...['breaths', 'breaths_16_18_20_share', 'breaths_variation', 'breaths_finding'],
  ...['sets_compared', 'sets_repeated', 'sets_repeated_by_chance', 'sets_finding'],
  ...['sets', 'delay_median_minutes', 'delay_90_percent_minutes', 'late_share'],
];

function cellsOf({ digits, breaths, repeats, delays }: Habits): CsvCell[] {
  return [
    ...INSTRUMENTS.flatMap((instrument) => {
      const { counted, zeroShare, chiSquare, p, finding } = digits[instrument];
      return [counted, cellOf(zeroShare), cellOf(chiSquare), cellOf(p), finding];
    }),
    ...[breaths.counted, cellOf(breaths.usualShare), cellOf(breaths.variation), breaths.finding],
    ...[repeats.compared, repeats.repeated, cellOf(repeats.expected), repeats.finding],
    ...[delays.sets, cellOf(delays.medianMinutes), cellOf(delays.ninetyMinutes)],
    cellOf(delays.lateShare),
  ];
}

/** One row for all, one for each group. No reading, and nothing of a patient. */
export function habitsTable({ query, overall, groups }: HabitsReport): FiguresTable {
  const { from, to } = query.period;
  const rowOf = (label: string, habits: Habits) => [from, to, query.by, label, ...cellsOf(habits)];
  const rows = [rowOf('all', overall), ...groups.map((group) => rowOf(group.label, group))];
  return { head: HEAD, rows };
}
