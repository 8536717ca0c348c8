import type { ReportDoubt, UnreadRow } from '../../vitals/device-report.js';
import type { Assembled } from './assemble-reading.js';
import type { Amendment } from './delivery.js';
import { makeSets } from './make-sets.js';

const NOT_SENT_BEFORE = 'It was entered in error, and nothing of the kind was sent before.';

/**
 * A correction or withdrawal. If nothing of the kind was sent before, a correction is a reading of its own
 * with a note, and a withdrawal is a row for the analyst.
 */
export function amendmentOf(
  action: Amendment['action'],
  main: Assembled,
  row: Pick<UnreadRow, 'at' | 'code'> & { readonly index: number },
): Amendment {
  const { patient, reading } = main;
  const { report } = reading;
  const doubts: ReportDoubt[] = [...(report.doubts ?? []), 'original-not-found'];
  const noted = { ...main, reading: { ...reading, report: { ...report, doubts } } };
  const missing = { ...row, reason: 'original-not-found', message: NOT_SENT_BEFORE } as const;
  const [otherwise] =
    action === 'correct' ? makeSets([noted], []) : makeSets([], [{ patient, row: missing }]);
  if (otherwise === undefined) throw new Error('an amendment came to nothing');
  return { action, patient, reading, otherwise };
}
