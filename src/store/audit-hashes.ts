/** What is hashed, and how: the writer of the audit trail and its verifier must agree to the byte. */
import { createHash, createHmac } from 'node:crypto';

/** An entry as it lies in the table `audit`. */
export type AuditRecord = Readonly<{
  audit_id: string;
  /** RFC 3339, milliseconds, UTC. */
  at: string;
  writer_key: number | null;
  client_key: number | null;
  person_key: number | null;
  patient_key: number | null;
  action: string;
  outcome: number;
  entity: string | null;
  request_id: string | null;
  address: string | null;
  detail: unknown;
}>;

/** JSON whose members stand in the order of their names: the database keeps them in an order of its own. */
function sortedJson(value: unknown): string {
  return JSON.stringify(value, (_name, member: unknown) =>
    typeof member === 'object' && member !== null && !Array.isArray(member)
      ? Object.fromEntries(Object.entries(member).sort(([a], [b]) => (a < b ? -1 : 1)))
      : member,
  );
}

function sha256(...parts: readonly (string | Buffer)[]): Buffer {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(part);
  return hash.digest();
}

/** What stands before the first entry of a segment. `minuteMs`: its start, in ms since the epoch. */
export function segmentStart(writerId: string, minuteMs: number): Buffer {
  return sha256(JSON.stringify(['segment', writerId, new Date(minuteMs).toISOString()]));
}

/** The hash of the entry at place `number` (from 1) of its segment. */
export function linkHash(
  before: Buffer,
  number: number,
  found: boolean,
  record: AuditRecord,
): Buffer {
  const { audit_id, at, writer_key, client_key, person_key, patient_key } = record;
  const who = [writer_key, client_key, person_key, patient_key];
  const { action, outcome, entity, request_id, address, detail } = record;
  const what = [action, outcome, entity, request_id, address, detail ?? null];
  return sha256(before, sortedJson([number, found, audit_id, at, ...who, ...what]));
}

/** A segment that is over. */
export interface Seal {
  readonly number: number;
  readonly writerId: string;
  readonly minuteMs: number;
  readonly entries: number;
  readonly lastHash: Buffer;
  readonly sealedMs: number;
}

/** What stands before the first seal of a site. */
export const BEFORE_SEALS = sha256('seals');

export function sealHash(before: Buffer, seal: Seal): Buffer {
  const { number, writerId, minuteMs, entries, lastHash, sealedMs } = seal;
  const times = [minuteMs, sealedMs].map((ms) => new Date(ms).toISOString());
  return sha256(
    before,
    JSON.stringify([number, writerId, ...times, entries, lastHash.toString('hex')]),
  );
}

/** A keyed digest of a value that must not stand in an entry: 96 bits, enough to tell values apart. */
export function digestOf(key: Buffer, value: string): string {
  return createHmac('sha256', key).update(value).digest().subarray(0, 12).toString('base64url');
}
