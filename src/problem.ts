import { STATUS_CODES } from 'node:http';
import type { Fault } from './vitals/shapes.js';

export interface Problem {
  readonly status: number;
  readonly detail: string;
  /** The faults of the body, each with its place. */
  readonly errors?: readonly Fault[];
  /** What the rules said about a correction that they reject. */
  readonly findings?: readonly unknown[];
}

/**
 * The bytes of an RFC 9457 problem document. The type is `about:blank`, so the title is the phrase of
 * the status (§4.2.1); what happened stands in `detail`, and each fault of the body in `errors`.
 */
export function problemBody({ status, detail, errors, findings }: Problem): Buffer {
  const title = STATUS_CODES[status] ?? 'Error';
  return Buffer.from(
    JSON.stringify({ type: 'about:blank', title, status, detail, errors, findings }),
  );
}
