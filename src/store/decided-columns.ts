/** What a decision writes into the columns of a reading. */
import type { Finding, JudgedReading } from '../vitals/shapes.js';
import type { DecisionEffectName, DecisionRequest } from './deciding.js';
import { judgedColumns } from './reading-records.js';

/** A row of `readings`, as it was loaded or as it will be written. */
export type RecordOfReading = Record<string, unknown>;

/** The findings that doubt whose reading it is. */
export function identityFindings(record: RecordOfReading): Finding[] {
  const findings = (record.findings ?? []) as Finding[];
  return findings.filter((finding) => finding.hold === 'identity');
}

/** Out as it is, because a person vouches for it. */
export function released(record: RecordOfReading): RecordOfReading {
  return {
    ...record,
    verdict: record.verdict === 'held' ? 'noted' : record.verdict,
    status: settledStatus(record.absent),
    hold: null,
  };
}

/** Taken back, or never to go out. */
export function withdrawn(
  record: RecordOfReading,
  effect: 'reject' | 'reject-published' | 'withdraw',
): RecordOfReading {
  return {
    ...record,
    ...(effect === 'withdraw' ? {} : { verdict: 'rejected' }),
    ...(effect === 'reject' ? {} : { status: 'entered-in-error' }),
    hold: null,
  };
}

/** What was not measured is published as such, and never as final. */
export function settledStatus(absent: unknown): 'final' | 'cancelled' {
  return absent === null || absent === undefined ? 'final' : 'cancelled';
}

/**
 * The columns of a reading that a person has looked at: a doubt about it is settled. Not settled is
 * the doubt about a value when only its patient was named, or when its own sender corrects what is
 * not yet final: then it stays held as the rules ask.
 *
 * @param deviceKey of the reading as it was judged
 */
export function decidedColumns(
  judged: JudgedReading,
  record: RecordOfReading,
  request: Pick<DecisionRequest, 'ownSourceKey'>,
  effect: DecisionEffectName,
  facts: { readonly edition: number; readonly deviceKey: number | null },
): RecordOfReading {
  const columns: RecordOfReading = { ...judgedColumns(judged, facts.edition, facts.deviceKey) };
  const settled = record.status !== null && record.status !== 'preliminary';
  const doubtStays = effect === 'assign' || (request.ownSourceKey !== null && !settled);
  if (doubtStays && judged.hold !== null) {
    // What is out stays out, under its doubt: whoever has it must learn of the correction.
    if (record.status !== null) columns.status = 'preliminary';
    return columns;
  }
  columns.status = settledStatus(judged.reading.absent);
  columns.hold = null;
  if (judged.verdict === 'held') columns.verdict = 'noted';
  return columns;
}
