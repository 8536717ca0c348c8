/** The tally as a table for a person. */
import { PROTOCOLS } from './device.js';
import { FAULTS } from './faults.js';
import type { ProtocolReport, TallyReport } from './tally.js';

const PROTOCOL_WORDS = { json: 'JSON', hl7v2: 'HL7 v2', fhir: 'FHIR' } as const;

type Row = readonly string[];

export function tallyLines(report: TallyReport): readonly string[] {
  const { seconds, messages, answered, answeredPerSecond, notMeasured } = report;
  return [
    `${messages} messages in ${seconds} s, ${answered} of them answered: ${answeredPerSecond} a second`,
    ...(notMeasured === 0
      ? []
      : [`${notMeasured} times a device did not measure, because too much of it waited`]),
    '',
    ...table([
      ['', 'messages', 'answers', 'p50', 'p99', 'lost', 'sent again', 'connections lost'],
      ...PROTOCOLS.flatMap((protocol) => {
        const row = report.protocols[protocol];
        return row === undefined ? [] : [protocolRow(PROTOCOL_WORDS[protocol], row)];
      }),
    ]),
    '',
    ...table([
      ['fault', 'messages', 'what the gateway made of it'],
      ...[...FAULTS, 'none' as const].flatMap((fault) => {
        const row = report.faults[fault];
        return row === undefined ? [] : [[fault, String(row.messages), countsText(row.made)]];
      }),
    ]),
    '',
    ...conclusion(report),
  ];
}

function protocolRow(name: string, row: ProtocolReport): Row {
  const { p50, p99 } = row.latencyMs;
  const time = (ms: number | null): string => (ms === null ? '–' : `${ms} ms`);
  const counts = [row.lost, row.resent, row.disconnected].map(String);
  return [name, String(row.messages), countsText(row.answers), time(p50), time(p99), ...counts];
}

function countsText(counts: Readonly<Record<string, number | undefined>>): string {
  return Object.entries(counts)
    .sort(([, one = 0], [, other = 0]) => other - one)
    .map(([word, count = 0]) => `${word}: ${count}`)
    .join(', ');
}

function conclusion({ lost, unexplained }: TallyReport): readonly string[] {
  const { count, examples } = unexplained;
  const ending = lost === 0 ? 'Nothing was lost' : `Lost: ${lost}, never answered`;
  if (count === 0) return [`${ending}, and every answer is what it should be.`];
  const more = count - examples.length;
  return [
    `${ending}. Not what it should be: ${count}`,
    ...examples.map((words) => `  ${words}`),
    ...(more > 0 ? [`  and ${more} more`] : []),
  ];
}

/** Columns as wide as what stands in them. */
function table(rows: readonly Row[]): readonly string[] {
  const widths = (rows[0] ?? []).map((_, column) =>
    Math.max(...rows.map((row) => (row[column] ?? '').length)),
  );
  return rows.map((row) =>
    `  ${row.map((cell, column) => cell.padEnd(widths[column] ?? 0)).join('  ')}`.trimEnd(),
  );
}
