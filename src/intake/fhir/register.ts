/** What this stage has to know of the gateway's own patients and devices: asked first, then answered. */
import type { Identifier } from '../../vitals/shapes.js';

/** A device as it is known by an id of this server. */
export interface KnownDevice {
  readonly identifier: Identifier;
  /** It was last said to be in a mode in which it shows no patient's values. */
  readonly test: boolean;
  /** What it tells are settings. */
  readonly setting: boolean;
}

/** A registered patient. */
export interface KnownPatient {
  readonly id: string;
  /** At least one. */
  readonly identifiers: readonly Identifier[];
}

/** Answers from the register; null: there is none such. */
export interface Register {
  patient(id: string): KnownPatient | null;
  /** Those that have one of these identifiers. */
  patientsWith(criteria: readonly Identifier[]): readonly KnownPatient[];
  device(type: 'Device' | 'DeviceMetric', id: string): KnownDevice | null;
  /** The device was last said to be in a mode in which it shows no patient's values. */
  isTesting(device: Identifier): boolean;
}

/** What a delivery asks of the register. */
export interface Questions {
  readonly patientIds: readonly string[];
  readonly patientCriteria: readonly (readonly Identifier[])[];
  readonly devices: readonly { readonly type: 'Device' | 'DeviceMetric'; readonly id: string }[];
  readonly deviceNames: readonly Identifier[];
}

/** A register that knows nothing and remembers what it was asked. */
export class AskedRegister implements Register {
  readonly #patients = new Set<string>();
  readonly #criteria = new Map<string, readonly Identifier[]>();
  readonly #names = new Map<string, Identifier>();
  readonly #devices = new Map<string, { type: 'Device' | 'DeviceMetric'; id: string }>();

  patient(id: string): null {
    this.#patients.add(id);
    return null;
  }

  patientsWith(criteria: readonly Identifier[]): readonly KnownPatient[] {
    this.#criteria.set(criteriaName(criteria), criteria);
    return [];
  }

  device(type: 'Device' | 'DeviceMetric', id: string): null {
    this.#devices.set(`${type}/${id}`, { type, id });
    return null;
  }

  isTesting(device: Identifier): boolean {
    this.#names.set(criteriaName([device]), device);
    return false;
  }

  questions(): Questions {
    return {
      patientIds: [...this.#patients],
      patientCriteria: [...this.#criteria.values()],
      devices: [...this.#devices.values()],
      deviceNames: [...this.#names.values()],
    };
  }
}

/** The name of a search by identifiers. */
export function criteriaName(criteria: readonly Identifier[]): string {
  return JSON.stringify(criteria.map(({ system, value }) => [system, value]));
}
