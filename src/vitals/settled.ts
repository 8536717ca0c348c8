/** How far an undoubted value is settled: which status it goes out under. */
import type { DeviceReport } from './device-report.js';

/** Whether the device itself says that its signal is doubtful. */
export function isSignalDoubtful(report: DeviceReport | null | undefined): boolean {
  return (report?.signal?.length ?? 0) > 0;
}

/**
 * Whether a value that nothing holds goes out as `final` and not as `preliminary`: somebody stands by it,
 * and its device does not doubt the signal.
 * @param attended the source's registration, which decides where the report does not tell
 */
export function isSettled(report: DeviceReport | null | undefined, attended: boolean): boolean {
  return (report?.reviewed ?? attended) && !isSignalDoubtful(report);
}
