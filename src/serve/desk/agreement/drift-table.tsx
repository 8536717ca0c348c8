import { mean } from '../../../statistics/summary.js';
import { Mark } from '../../pages/parts/mark.js';
import { writeMoment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import type { Column } from '../../pages/parts/table.js';
import { writeNumber, writeSigned } from '../figures/write-figures.js';
import type { Drift } from './agreement-figures.js';

interface DriftDay {
  readonly day: string;
  readonly differences: number[];
  /** As they stood after the last pair of the day. */
  weighted: number;
  high: number;
  low: number;
  isOut: boolean;
}

function daysOf({ differences, weighted, summed }: Drift, zone: string): DriftDay[] {
  const days = new Map<string, DriftDay>();
  for (const [at, { atMs, difference }] of differences.entries()) {
    const day = writeMoment(atMs, zone).slice(0, 10);
    const known = days.get(day);
    const { high = 0, low = 0, signal = null } = summed[at] ?? {};
    const last = { weighted: weighted.points[at]?.weighted ?? NaN, high, low };
    days.set(day, {
      ...{ day, ...last, isOut: signal !== null },
      differences: [...(known?.differences ?? []), difference],
    });
  }
  return [...days.values()];
}

/** The figures of the drawing, day by day. */
export function DriftTable({ drift, zone, unit }: { drift: Drift; zone: string; unit: string }) {
  const columns: Column<DriftDay>[] = [
    { head: 'Day', rowHead: true, cell: ({ day }) => day },
    { head: 'Pairs', numeric: true, cell: ({ differences }) => String(differences.length) },
    {
      head: `Mean difference (${unit})`,
      numeric: true,
      cell: ({ differences }) => writeSigned(mean(differences)),
    },
    { head: 'Weighted average', numeric: true, cell: ({ weighted }) => writeSigned(weighted) },
    { head: 'Piled up above', numeric: true, cell: ({ high }) => writeNumber(high) },
    { head: 'Piled up below', numeric: true, cell: ({ low }) => writeNumber(low) },
    {
      head: 'Signal',
      cell: ({ isOut }) => (isOut ? <Mark tone="caution">signal</Mark> : 'none'),
    },
  ];
  return (
    <Table
      caption={`Day by day, as it stood at the end of each; the signal comes above ${writeNumber(drift.decision)}`}
      columns={columns}
      rows={daysOf(drift, zone)}
      keyOf={({ day }) => day}
      empty=""
    />
  );
}
