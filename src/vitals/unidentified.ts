/** The stand-in for a patient whom a message does not name: nobody can be registered under it. */
import type { ClaimedPatient, Identifier } from './shapes.js';

/** A namespace of our own (RFC 9562), so that no hospital's number can be in it. */
export const UNIDENTIFIED_SYSTEM = 'urn:uuid:5b1e6f0a-5d0e-4b58-9d0a-6f2c8e1b7a43';

/** Under what readings wait until somebody says whose they are: one name a source and device. */
export function unidentifiedPatient(source: string, device: Identifier | null): ClaimedPatient {
  const name = device === null ? '' : `${device.system}|${device.value}`;
  return { identifier: { system: UNIDENTIFIED_SYSTEM, value: `${source}|${name}` } };
}
