import { Mark } from '../../pages/parts/mark.js';
import { Table } from '../../pages/parts/table.js';
import type { Column } from '../../pages/parts/table.js';
import { writeChance, writeNumber, writeShare } from '../figures/write-figures.js';
import { habitsAddress } from './habits-query.js';
import type { HabitsQuery } from './habits-query.js';
import type { HabitsGroup } from './habits-report.js';
import { INSTRUMENT_FACTS } from './instruments.js';
import type { Instrument } from './instruments.js';

export interface GroupTables {
  readonly query: HabitsQuery;
  /** The groups, and all of them together as the last. */
  readonly rows: readonly HabitsGroup[];
  /** Whether rows can be looked at by themselves. */
  readonly isLinked: boolean;
}

type Finding =
  | HabitsGroup['breaths']['finding']
  | HabitsGroup['repeats']['finding']
  | HabitsGroup['digits'][Instrument]['finding'];

const FINDINGS: Readonly<Record<Finding, string>> = {
  'too-few': 'too few',
  'as-expected': 'as expected',
  'zeros-preferred': 'zeros preferred',
  heaped: 'heaped',
  repeated: 'repeated',
};

function FindingMark({ finding }: { finding: Finding }) {
  const isSignal = finding !== 'too-few' && finding !== 'as-expected';
  return <Mark tone={isSignal ? 'caution' : 'plain'}>{FINDINGS[finding]}</Mark>;
}

function nameColumn({ query, isLinked }: GroupTables): Column<HabitsGroup> {
  return {
    head: query.by === 'person' ? 'Written by' : 'Ward',
    rowHead: true,
    cell: ({ key, label }) =>
      key !== '' && isLinked ? (
        <a href={habitsAddress(query, { [query.by]: key })}>{label}</a>
      ) : (
        label
      ),
  };
}

function whole(count: number): string {
  return String(count);
}

export function DigitsTable({ instrument, ...facts }: GroupTables & { instrument: Instrument }) {
  const of = ({ digits }: HabitsGroup) => digits[instrument];
  const columns: Column<HabitsGroup>[] = [
    nameColumn(facts),
    { head: 'Numbers', numeric: true, cell: (row) => whole(of(row).counted) },
    {
      head: 'Ending in 0',
      numeric: true,
      cell: (row) => (of(row).counted === 0 ? '–' : writeShare(of(row).zeroShare)),
    },
    { head: 'Expected', numeric: true, cell: (row) => writeShare(of(row).expectedShare) },
    {
      head: 'Chi-square (df)',
      numeric: true,
      cell: (row) => `${writeNumber(of(row).chiSquare)} (${of(row).df})`,
    },
    { head: 'p', numeric: true, cell: (row) => writeChance(of(row).p) },
    { head: 'Between marks', numeric: true, cell: (row) => whole(of(row).offScale) },
    { head: 'Finding', cell: (row) => <FindingMark finding={of(row).finding} /> },
  ];
  return (
    <Table
      caption={INSTRUMENT_FACTS[instrument].name}
      columns={columns}
      rows={facts.rows.filter((row) => of(row).counted + of(row).offScale > 0)}
      keyOf={({ key, label }) => `${key} ${label}`}
      empty={`${INSTRUMENT_FACTS[instrument].name}: none in these days.`}
    />
  );
}

export function BreathsTable(facts: GroupTables) {
  const columns: Column<HabitsGroup>[] = [
    nameColumn(facts),
    { head: 'Rates', numeric: true, cell: ({ breaths }) => whole(breaths.counted) },
    {
      head: '16, 18 or 20',
      numeric: true,
      cell: ({ breaths }) => writeShare(breaths.usualShare),
    },
    {
      head: 'Commonest',
      numeric: true,
      cell: ({ breaths: { commonest } }) =>
        commonest === null ? '–' : `${commonest.rate} (${writeShare(commonest.share)})`,
    },
    {
      head: 'SD / mean',
      numeric: true,
      cell: ({ breaths }) => writeNumber(breaths.variation, 2),
    },
    { head: 'Finding', cell: ({ breaths }) => <FindingMark finding={breaths.finding} /> },
  ];
  return (
    <Table
      caption="Respiratory rates that somebody counted"
      columns={columns}
      rows={facts.rows.filter(({ breaths }) => breaths.counted > 0)}
      keyOf={({ key, label }) => `${key} ${label}`}
      empty="No respiratory rates in these days."
    />
  );
}

export function RepeatsTable(facts: GroupTables) {
  const columns: Column<HabitsGroup>[] = [
    nameColumn(facts),
    { head: 'Sets compared', numeric: true, cell: ({ repeats }) => whole(repeats.compared) },
    { head: 'All as before', numeric: true, cell: ({ repeats }) => whole(repeats.repeated) },
    { head: 'By chance', numeric: true, cell: ({ repeats }) => writeNumber(repeats.expected, 2) },
    { head: 'Twice running', numeric: true, cell: ({ repeats }) => whole(repeats.twiceRunning) },
    {
      head: '3 signs still through 4 sets',
      numeric: true,
      cell: ({ repeats }) => whole(repeats.standstills),
    },
    { head: 'Finding', cell: ({ repeats }) => <FindingMark finding={repeats.finding} /> },
  ];
  return (
    <Table
      caption="Sets against the patient’s set before, more than half an hour earlier"
      columns={columns}
      rows={facts.rows.filter(({ repeats }) => repeats.compared > 0)}
      keyOf={({ key, label }) => `${key} ${label}`}
      empty="No two sets of one patient in these days."
    />
  );
}

export function DelaysTable(facts: GroupTables) {
  const columns: Column<HabitsGroup>[] = [
    nameColumn(facts),
    { head: 'Sets', numeric: true, cell: ({ delays }) => whole(delays.sets) },
    {
      head: 'Half within (min)',
      numeric: true,
      cell: ({ delays }) => writeNumber(delays.medianMinutes),
    },
    {
      head: 'Nine of ten within (min)',
      numeric: true,
      cell: ({ delays }) => writeNumber(delays.ninetyMinutes),
    },
    {
      head: 'Over 30 min',
      numeric: true,
      cell: ({ delays }) => writeShare(delays.lateShare),
    },
  ];
  return (
    <Table
      caption="From the time of taking that was written to the arrival here"
      columns={columns}
      rows={facts.rows.filter(({ delays }) => delays.sets > 0)}
      keyOf={({ key, label }) => `${key} ${label}`}
      empty="No sets in these days."
    />
  );
}
