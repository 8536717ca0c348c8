/** A gateway with an analyst at it, and readings in every state to decide about. */
import { randomUUID } from 'node:crypto';
import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { PUBLISHED_SCHEMAS } from '../../../src/contract/schemas.js';
import { minutesAgo, MRN, registerPatient } from '../../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway, Told } from '../../setup/gateway.js';

export type Json = Readonly<Record<string, unknown>>;

/** A reading as the review shows it, as far as tests look at it. */
export interface Shown {
  readonly reading: string;
  readonly version: number;
  readonly index: number;
  readonly vital: string;
  readonly verdict: string;
  readonly state: string;
  readonly hold: string | null;
  readonly critical: boolean;
  readonly status: string | null;
  readonly deadline: string | null;
  readonly observation?: string;
  readonly value?: number;
  readonly method: string | null;
  readonly position: string | null;
  readonly device: unknown;
  readonly takenAt: string;
  readonly receivedAt: string;
  readonly changedAt: string;
  readonly patient: Json & { readonly id: string };
  readonly findings: readonly { readonly rule: string; readonly message: string }[];
  readonly location: string | null;
  readonly source: string;
  readonly submission: string;
  readonly setId: string | null;
}

export interface ShownInFull extends Shown {
  readonly allowedActions: readonly string[];
  readonly replaces: string | null;
  readonly replacedBy: string | null;
  readonly history: readonly (Shown & { readonly supersededAt: string | null })[];
  readonly decisions: readonly Json[];
  readonly arrival: Json | null;
  readonly alongside: readonly Json[];
  readonly published?: ShownInFull;
}

export interface Page {
  readonly readings: readonly Shown[];
  readonly total?: { readonly count: number; readonly exact: boolean };
  readonly next: string | null;
}

const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true, strictTypes: false });
addFormats.default(ajv);
ajv.addSchema(Object.values(PUBLISHED_SCHEMAS));

/** What an answer has against its published schema. */
export function faultsOf(schema: string, value: unknown): unknown {
  ajv.validate(`urn:vital-sign-gateway:schema:${schema}`, value);
  return ajv.errors ?? [];
}

export const height = (value: number): Json => ({ vital: 'body-height', value, unit: 'cm' });
export const weight = (value: number): Json => ({ vital: 'body-weight', value, unit: 'kg' });
export const breaths = (value: number, more: Json = {}): Json => ({
  vital: 'respiratory-rate',
  method: 'counted',
  value,
  unit: '/min',
  ...more,
});
export const saturation = (value: number, more: Json = {}): Json => ({
  vital: 'oxygen-saturation',
  method: 'pulse-oximetry',
  site: 'finger',
  value,
  unit: '%',
  ...more,
});

const MONITORS = { name: 'corridor monitors', attended: false };

export interface ReviewDesk {
  readonly gateway: TestGateway;
  readonly patient: (birthDate?: string) => Promise<TestPatient>;
  /** Sends these readings of a new patient, or of this one, and returns the answer. */
  readonly send: (readings: readonly Json[], more?: Json) => Promise<SetAnswer>;
  readonly sendFrom: (token: string, readings: readonly Json[], more?: Json) => Promise<SetAnswer>;
  readonly monitorToken: string;
  readonly list: (query: string) => Promise<Told<Page>>;
  readonly read: (id: string) => Promise<Told<ShownInFull>>;
  readonly decide: (id: string, decision: Json, token?: string) => Promise<Told<ShownInFull>>;
  /** Status of the Observation as the downstream record sees it; null: it does not. */
  readonly published: (id: string) => Promise<string | null>;
  readonly ask: <T = Json>(path: string, body?: unknown) => Promise<Told<T>>;
}

let people = 0;

/** The identifier of somebody new. */
export function newNumber(): string {
  people += 1;
  return `LF-${70_000 + people}`;
}

export function identifierOf(number: string): { system: string; value: string } {
  return { system: MRN, value: number };
}

export async function openReviewDesk(): Promise<ReviewDesk> {
  const gateway = await openTestGateway();
  const [wardToken, monitorToken, analyst, record] = await Promise.all([
    gateway.token('sets.write'),
    gateway.token('sets.write', MONITORS),
    gateway.token('review.read review.write', { name: 'analysts', attended: true }),
    gateway.token('system/Observation.rs', { name: 'record', attended: true }),
  ]);
  const patient = (birthDate?: string) => registerPatient(gateway, newNumber(), birthDate);
  const sendFrom = async (
    token: string,
    readings: readonly Json[],
    more: Json = {},
  ): Promise<SetAnswer> => {
    const somebody = more.patient === undefined ? await patient() : null;
    const body = {
      setId: randomUUID(),
      takenAt: minutesAgo(2),
      readings,
      ...(somebody !== null && {
        patient: {
          identifier: identifierOf(somebody.number),
          birthDate: somebody.birthDate,
        },
      }),
      ...more,
    };
    const answer = await gateway.ask<SetAnswer>('/sets', { body, token });
    if (answer.status !== 201 && answer.status !== 422) throw new Error(answer.text);
    return answer.body;
  };
  return {
    gateway,
    patient,
    sendFrom,
    send: (readings, more) => sendFrom(wardToken, readings, more),
    monitorToken,
    list: (query) => gateway.ask<Page>(`/review/readings?${query}`, { token: analyst }),
    read: (id) => gateway.ask<ShownInFull>(`/review/readings/${id}`, { token: analyst }),
    decide: (id, decision, token = analyst) =>
      gateway.ask<ShownInFull>(`/review/readings/${id}/decisions`, { body: decision, token }),
    async published(id) {
      const found = await gateway.ask<{ status: string }>(`/fhir/Observation/${id}`, {
        token: record,
      });
      return found.status === 404 ? null : found.body.status;
    },
    ask: <T>(path: string, body?: unknown) =>
      gateway.ask<T>(path, { token: analyst, ...(body !== undefined && { body }) }),
  };
}

/** The id of the first reading of an answer. */
export function firstOf(answer: SetAnswer): string {
  const id = answer.readings[0]?.reading;
  if (id === undefined) throw new Error('the answer has no reading');
  return id;
}

export function decision(action: string, expectedVersion: number, more: Json = {}): Json {
  return { action, reason: 'Seen on the ward.', reasonCode: 'other', expectedVersion, ...more };
}
