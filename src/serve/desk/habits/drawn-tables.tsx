/** The figures of the two drawings. */
import type { LastDigits } from '../../../statistics/last-digits.js';
import { Table } from '../../pages/parts/table.js';
import type { Column } from '../../pages/parts/table.js';
import { writeShare } from '../figures/write-figures.js';

interface Counted {
  readonly what: number;
  readonly count: number;
  readonly share: number;
}

function columnsOf(head: string): Column<Counted>[] {
  return [
    { head, rowHead: true, cell: ({ what }) => String(what) },
    { head: 'Times', numeric: true, cell: ({ count }) => String(count) },
    { head: 'Share', numeric: true, cell: ({ share }) => writeShare(share) },
  ];
}

export function DrawnDigits({ digits }: { digits: LastDigits }) {
  const { counts, counted, offScale, expectedShare } = digits;
  const rows = counts.map((count, what) => ({ what, count, share: count / (counted + offScale) }));
  return (
    <Table
      caption={`As drawn: each digit of the scale is expected in ${writeShare(expectedShare)}`}
      columns={columnsOf('Last digit')}
      rows={rows}
      keyOf={({ what }) => String(what)}
      empty=""
    />
  );
}

export function DrawnBreaths({ rates }: { rates: readonly number[] }) {
  const counts = new Map<number, number>();
  for (const rate of rates) counts.set(rate, (counts.get(rate) ?? 0) + 1);
  const rows = [...counts]
    .sort(([a], [b]) => a - b)
    .map(([what, count]) => ({ what, count, share: count / rates.length }));
  return (
    <Table
      caption="As drawn: respiratory rates as written"
      columns={columnsOf('Breaths a minute')}
      rows={rows}
      keyOf={({ what }) => String(what)}
      empty=""
    />
  );
}
