/** Observations as senders write them: invented people and devices of ward Larkfield. */
import { MRN, minutesAgo } from '../../setup/example-sets.js';
import type { TestPatient } from '../../setup/example-sets.js';
import type { Ask, TestGateway, Told } from '../../setup/gateway.js';
import type { AnyBundle } from './fhir-fixture.js';

type Json = Readonly<Record<string, unknown>>;

const LOINC = 'http://loinc.org';
const MDC = 'urn:iso:std:iso:11073:10101';
const UCUM = 'http://unitsofmeasure.org';

export const coded = (system: string, code: string): Json => ({ coding: [{ system, code }] });
export const quantity = (value: number, code: string): Json => ({
  value,
  unit: code,
  system: UCUM,
  code,
});

export function byIdentifier({ number }: TestPatient): Json {
  return { type: 'Patient', identifier: { system: MRN, value: number } };
}

/** A saturation; `more` in place of its elements. */
export function saturation(subject: Json, value: number, more: Json = {}): Json {
  return {
    resourceType: 'Observation',
    status: 'final',
    category: [coded('http://terminology.hl7.org/CodeSystem/observation-category', 'vital-signs')],
    code: {
      coding: [
        { system: LOINC, code: '2708-6' },
        { system: LOINC, code: '59408-5' },
      ],
    },
    subject,
    effectiveDateTime: minutesAgo(3),
    valueQuantity: quantity(value, '%'),
    device: { identifier: { system: 'urn:example:device', value: 'OX-12' } },
    ...more,
  };
}

export function temperature(subject: Json, value: number, more: Json = {}): Json {
  return {
    ...saturation(subject, value),
    code: {
      coding: [
        { system: MDC, code: '150364', display: 'MDC_TEMP_BODY' },
        { system: LOINC, code: '8310-5' },
      ],
    },
    valueQuantity: quantity(value, 'Cel'),
    ...more,
  };
}

/** A cuff's pressure in the form of both device guides. */
export function cuffPressure(
  subject: Json,
  systolic: number,
  diastolic: number,
  more: Json = {},
): Json {
  const part = (loinc: string, mdc: string, value: number): Json => ({
    code: {
      coding: [
        { system: MDC, code: mdc },
        { system: LOINC, code: loinc },
      ],
    },
    valueQuantity: quantity(value, 'mm[Hg]'),
  });
  return {
    ...saturation(subject, 0, { valueQuantity: undefined }),
    code: {
      coding: [
        { system: LOINC, code: '85354-9' },
        { system: MDC, code: '150020', display: 'MDC_PRESS_BLD_NONINV' },
      ],
    },
    component: [part('8480-6', '150021', systolic), part('8462-4', '150022', diastolic)],
    ...more,
  };
}

/** An entry that creates; `more` in place of its members, `ifNoneExist` for its request. */
export function post(resource: Json, more: Json = {}): Json {
  const { ifNoneExist, ...rest } = more;
  return {
    resource,
    request: {
      method: 'POST',
      url: resource.resourceType,
      ...(ifNoneExist !== undefined && { ifNoneExist }),
    },
    ...rest,
  };
}

/** What each entry was answered with. */
export function statuses({ entry = [] }: AnyBundle): string[] {
  return entry.map(({ response }) => (response?.status ?? '').slice(0, 3));
}

/** Sends FHIR JSON, with the scope to create Observations unless another token is given. */
export class FhirSender {
  readonly #gateway: TestGateway;
  readonly #token: string;

  private constructor(gateway: TestGateway, token: string) {
    this.#gateway = gateway;
    this.#token = token;
  }

  static async of(
    gateway: TestGateway,
    scopes = 'system/Observation.crs system/Patient.rs',
    source?: { name: string; attended: boolean },
  ): Promise<FhirSender> {
    return new FhirSender(gateway, await gateway.token(scopes, source));
  }

  post<T = Json>(path: string, body: unknown, headers: Readonly<Record<string, string>> = {}) {
    return this.ask<T>(path, {
      method: 'POST',
      body,
      headers: { 'content-type': 'application/fhir+json', ...headers },
    });
  }

  ask<T = Json>(path: string, ask: Ask = {}): Promise<Told<T>> {
    const local = path.startsWith('http') ? new URL(path).pathname : `/fhir${path}`;
    return this.#gateway.ask<T>(local, { token: this.#token, ...ask });
  }
}
