/** A held reading that a repeat agrees with: what its next version is, and the line in the audit trail. */
import type { DeviceReport } from '../vitals/device-report.js';
import { isSettled } from '../vitals/settled.js';
import type { Finding } from '../vitals/shapes.js';
import type { AuditEntry } from './audit.js';
import { keptFinding } from './reading-records.js';
import { indexOf } from './reading-rows.js';

/**
 * The record without its hold, out as a reading of its source that was never held; what doubted it stays
 * among its findings, and the finding that resolved it comes after.
 */
export function resolvedRecord(
  record: Readonly<Record<string, unknown>>,
  cause: Finding,
  attended: boolean,
): Record<string, unknown> {
  const { releases, ...finding } = keptFinding(cause);
  const id = String(record.reading_id);
  const others = (releases ?? []).filter((each) => each !== id);
  return {
    ...record,
    verdict: 'noted',
    hold: null,
    hold_until: null,
    status: isSettled(record.report as DeviceReport | null, attended) ? 'final' : 'preliminary',
    findings: [
      ...((record.findings ?? []) as Finding[]),
      // Named by its place in its own set, not by those of the set that resolved it.
      { ...finding, readings: [indexOf(id)], earlier: others },
    ],
  };
}

export function resolutionAudit(record: Readonly<Record<string, unknown>>): AuditEntry {
  return {
    ...{ clientKey: null, patientKey: Number(record.patient_key) },
    action: 'hold-resolved',
    outcome: 200,
    entity: `readings/${String(record.reading_id)}`,
  };
}
