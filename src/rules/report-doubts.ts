/** What the doubts of a message's reader mean for the other rules. */
import type { ReportDoubt } from '../vitals/device-report.js';
import type { Reading } from '../vitals/shapes.js';
import { isSignalDoubtful } from '../vitals/settled.js';

/** The time of such a reading tells nothing: it was not told, or by a clock that cannot be relied upon. */
const TIME_DOUBTS: readonly ReportDoubt[] = [
  'time-missing',
  'time-imprecise',
  'time-zone-missing',
  'clock-unset',
  'clock-stepped',
];

/** Told beside a value that stands. */
const SIDE_REMARKS: readonly ReportDoubt[] = [
  'code-by-name-only',
  'time-to-minute-only',
  'control-id-reused',
  'original-not-found',
];

type Reported = Pick<Reading, 'report'>;

export function hasDoubt({ report }: Reported, doubt: ReportDoubt): boolean {
  return report?.doubts?.includes(doubt) === true;
}

/** Whether the time of a reading is the time at which it was measured. */
export function isTimeKnown({ report }: Reported): boolean {
  return report?.doubts?.some((each) => TIME_DOUBTS.includes(each)) !== true;
}

/**
 * Whether a reading may be held against others: not where it is in doubt what was measured or when, and
 * not where the device doubts its own signal. Else a sound reading would be held for an unsound one.
 */
export function speaksOfOthers({ report }: Reported): boolean {
  if (report === undefined) return true;
  return (
    !isSignalDoubtful(report) && (report.doubts ?? []).every((each) => SIDE_REMARKS.includes(each))
  );
}
