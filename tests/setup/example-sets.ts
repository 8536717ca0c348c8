import { randomUUID } from 'node:crypto';
import type { TestGateway } from './gateway.js';

/** An invented patient, registered under a number of its own. */
export interface TestPatient {
  readonly number: string;
  readonly birthDate: string;
}

export const MRN = 'urn:example:mrn';

/** Registers somebody; without a birth date, an adult. */
export async function registerPatient(
  gateway: TestGateway,
  number: string,
  birthDate = '1967-03-21',
): Promise<TestPatient> {
  const token = await gateway.token('system/Patient.crus');
  const answer = await gateway.ask(`/fhir/Patient?identifier=${MRN}%7C${number}`, {
    method: 'PUT',
    token,
    body: {
      resourceType: 'Patient',
      identifier: [{ system: MRN, value: number }],
      name: [{ family: 'Aldous', given: ['Wren'] }],
      gender: 'female',
      birthDate,
    },
    headers: { 'content-type': 'application/fhir+json' },
  });
  if (answer.status !== 201 && answer.status !== 200) throw new Error(answer.text);
  return { number, birthDate };
}

export interface SetBody {
  readonly setId: string;
  readonly takenAt: string;
  readonly readings: readonly Readonly<Record<string, unknown>>[];
  readonly [member: string]: unknown;
}

/** Before the first test of the file; sets are taken from then on, a second apart. */
const FIRST_TAKEN_MS = Date.now() - 4 * 60_000;
let taken = 0;

/**
 * A second of its own for each set: equal readings of one second are one reading, and that is the subject
 * of few tests. Not near enough to now to be in the future after some hundreds of sets.
 */
function nextTakenAt(): string {
  taken = (taken + 1) % 480;
  return wholeSecond(FIRST_TAKEN_MS + taken * 1000);
}

/** A set of these readings, taken minutes ago. */
export function setOf(
  patient: TestPatient,
  readings: readonly Readonly<Record<string, unknown>>[],
  more: Readonly<Record<string, unknown>> = {},
): SetBody {
  return {
    setId: randomUUID(),
    patient: { identifier: { system: MRN, value: patient.number }, birthDate: patient.birthDate },
    takenAt: nextTakenAt(),
    readings,
    ...more,
  };
}

/** RFC 3339 with an offset, whole seconds. */
export function minutesAgo(minutes: number): string {
  return wholeSecond(Date.now() - minutes * 60_000);
}

function wholeSecond(epochMs: number): string {
  return new Date(epochMs).toISOString().replace(/\.\d+Z$/, '+00:00');
}

export const pressure = (
  method: 'auscultation' | 'oscillometry',
  systolic: number,
  diastolic: number,
  more: Readonly<Record<string, unknown>> = {},
): Record<string, unknown> => ({
  vital: 'blood-pressure',
  method,
  site: 'upper-arm',
  side: 'left',
  systolic,
  diastolic,
  unit: 'mm[Hg]',
  ...more,
});

export const oxygen = (value: number): Record<string, unknown> => ({
  vital: 'oxygen-saturation',
  method: 'pulse-oximetry',
  site: 'finger',
  value,
  unit: '%',
});

/** The answer to a set, as far as tests look at it. */
export interface SetAnswer {
  readonly setId: string;
  readonly submission: string;
  readonly verdict: string;
  readonly readings: readonly {
    readonly index: number;
    readonly reading: string;
    readonly version: number;
    readonly vital: string;
    readonly verdict: string;
    readonly observation?: string;
    readonly value?: number;
    readonly unit?: string;
    readonly entered?: unknown;
    readonly interpretation?: unknown;
  }[];
  readonly findings: readonly {
    readonly rule: string;
    readonly verdict: string;
    readonly readings: readonly number[];
    readonly message: string;
    readonly advice: string;
  }[];
  readonly edition: string;
}
