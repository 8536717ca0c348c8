import { Mark } from '../../pages/parts/mark.js';
import { writeMoment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import type { Column } from '../../pages/parts/table.js';
import {
  writeChance,
  writeNumber,
  writeRange,
  writeShare,
  writeSigned,
  writeWithin,
} from '../figures/write-figures.js';
import type { Counted, DriftState, Figures } from './agreement-figures.js';
import { agreementAddress } from './agreement-query.js';
import type { AgreementQuery, Grouping } from './agreement-query.js';
import type { Group, SizeBand } from './agreement-report.js';
import { driftWords } from './agreement-words.js';
import type { SignWords } from './agreement-words.js';

interface Row {
  readonly name: string;
  readonly value: string;
  readonly interval: string;
}

function validationRows({ validation }: Figures): Row[] {
  if (validation === null) return [];
  const { deviationOfMeans, largestDeviation, meetsFirst, meetsSecond } = validation;
  const met = (is: boolean): string => (is ? 'would be met' : 'would not be met');
  return [
    {
      name: 'ISO 81060-2 criterion 1, for orientation',
      value: `${writeSigned(validation.mean)} ± ${writeNumber(validation.standardDeviation)}`,
      interval: `at most 5 ± 8: ${met(meetsFirst)}`,
    },
    {
      name: 'ISO 81060-2 criterion 2, for orientation',
      value: `SD of patients’ means ${writeNumber(deviationOfMeans, 2)}`,
      interval:
        largestDeviation === null
          ? 'none is allowed with a mean beyond 5'
          : `at most ${writeNumber(largestDeviation, 2)}: ${met(meetsSecond)}`,
    },
  ];
}

function proportionalRow({ proportional }: Figures): Row[] {
  if (proportional === null) return [];
  const { slope, slopeInterval, p } = proportional;
  return [
    {
      name: 'Change of the difference for 10 more',
      value: writeSigned(slope * 10),
      interval: `${writeRange({ low: slopeInterval.low * 10, high: slopeInterval.high * 10 })}, p ${writeChance(p)}`,
    },
  ];
}

function figureRows(figures: Figures, isPressure: boolean): Row[] {
  const { agreement, shares } = figures;
  const { bias, biasInterval, limits, standardDeviation } = agreement;
  return [
    {
      name: 'Bias (mean difference)',
      value: writeSigned(bias),
      interval: writeRange(biasInterval),
    },
    {
      name: 'Upper limit of agreement',
      value: writeSigned(limits.high),
      interval: writeRange(agreement.upperInterval),
    },
    {
      name: 'Lower limit of agreement',
      value: writeSigned(limits.low),
      interval: writeRange(agreement.lowerInterval),
    },
    {
      name: 'Standard deviation of single differences',
      value: writeNumber(standardDeviation),
      interval: `${writeNumber(agreement.betweenPatients)} between patients, ${writeNumber(agreement.withinPatients)} within`,
    },
    ...proportionalRow(figures),
    {
      name: 'Within 5, 10 and 15',
      value: [shares.within5, shares.within10, shares.within15].map(writeShare).join(', '),
      interval: isPressure ? 'BHS 1993 asks 60, 85 and 95 % for grade A' : '',
    },
    ...(isPressure ? validationRows(figures) : []),
  ];
}

/** The figures of the chart. */
export function FiguresTable({
  figures,
  words: { unit, name, byDevice, byHand },
}: {
  figures: Figures;
  words: SignWords;
}) {
  const columns: Column<Row>[] = [
    { head: 'Figure', rowHead: true, cell: (row) => row.name },
    { head: `Value (${unit})`, numeric: true, cell: (row) => row.value },
    { head: '95 % interval, or what it is held against', cell: (row) => row.interval },
  ];
  return (
    <Table
      caption={`${name}: ${byDevice} less ${byHand}, ${unit}`}
      columns={columns}
      rows={figureRows(figures, unit === 'mmHg')}
      keyOf={(row) => row.name}
      empty=""
    />
  );
}

function cells<T extends Counted>(): Column<T>[] {
  const tell = (write: (figures: Figures) => string) => (row: T) =>
    row.figures === null ? 'too few' : write(row.figures);
  return [
    { head: 'Pairs', numeric: true, cell: ({ pairs }) => String(pairs) },
    { head: 'Patients', numeric: true, cell: ({ patients }) => String(patients) },
    {
      head: 'Bias (95 % interval)',
      numeric: true,
      cell: tell(({ agreement: { bias, biasInterval } }) => writeWithin(bias, biasInterval)),
    },
    {
      head: 'Limits of agreement',
      numeric: true,
      cell: tell(({ agreement: { limits } }) => writeRange(limits)),
    },
    {
      head: 'Within 10',
      numeric: true,
      cell: tell(({ shares }) => writeShare(shares.within10)),
    },
  ];
}

export function BandsTable({ bands, unit }: { bands: readonly SizeBand[]; unit: string }) {
  const columns: Column<SizeBand>[] = [
    {
      head: `Mean of both (${unit})`,
      rowHead: true,
      cell: ({ from, to }) =>
        from === 0 ? `under ${to}` : to >= 300 ? `${from} and more` : `${from} to under ${to}`,
    },
    ...cells<SizeBand>(),
  ];
  return (
    <Table
      caption="By size: whether high and low readings agree alike"
      columns={columns}
      rows={bands.filter(({ pairs }) => pairs > 0)}
      keyOf={({ from }) => String(from)}
      empty="No pairs."
    />
  );
}

function DriftMark({ drift, zone }: { drift: DriftState; zone: string }) {
  const isOut = drift.state === 'risen' || drift.state === 'fallen';
  return (
    <>
      <Mark tone={isOut ? 'caution' : 'plain'}>{driftWords(drift)}</Mark>
      {drift.sinceMs !== null && ` since ${writeMoment(drift.sinceMs, zone).slice(0, 10)}`}
    </>
  );
}

const HEADS: Readonly<Record<Grouping, string>> = {
  device: 'Device',
  ward: 'Ward',
  person: 'Measured by',
};

interface GroupsFacts {
  readonly query: AgreementQuery;
  readonly groups: readonly Group[];
  readonly more: number;
  readonly zone: string;
  /** Whether rows can be looked at by themselves. */
  readonly isLinked: boolean;
}

export function GroupsTable({ query, groups, more, zone, isLinked }: GroupsFacts) {
  const { by } = query;
  const columns: Column<Group>[] = [
    {
      head: HEADS[by],
      rowHead: true,
      cell: ({ key, label }) =>
        key !== '' && isLinked ? (
          <a href={agreementAddress(query, { [by]: key })}>{label}</a>
        ) : (
          label
        ),
    },
    ...cells<Group>(),
    ...(by === 'device'
      ? [{ head: 'Drift', cell: ({ drift }: Group) => <DriftMark drift={drift} zone={zone} /> }]
      : []),
  ];
  return (
    <>
      <Table
        caption={`By ${by === 'person' ? 'the person who measured by hand' : by}, most pairs first`}
        columns={columns}
        rows={groups}
        keyOf={({ key }) => key}
        empty="No pairs."
      />
      {more > 0 && <p>{`${String(more)} more with fewer pairs are not listed.`}</p>}
    </>
  );
}
