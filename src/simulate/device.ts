/** The devices of the simulated ward: which there are, who wears them, and how each talks. */
import { STAFF } from '../demo/take-set.js';
import { writeEui64, EUI64_SYSTEM } from '../vitals/device-identifier.js';
import type { Identifier } from '../vitals/shapes.js';
import type { Person } from './person.js';

export const DEVICE_KINDS = ['monitor', 'thermometer', 'oximeter', 'cuff'] as const;
export type DeviceKind = (typeof DEVICE_KINDS)[number];

export const PROTOCOLS = ['json', 'hl7v2', 'fhir'] as const;
export type Protocol = (typeof PROTOCOLS)[number];

export interface SimulatedDevice {
  readonly kind: DeviceKind;
  /** Counted from 1 among its kind. */
  readonly number: number;
  /** IEEE EUI-64, dashes between the pairs. */
  readonly eui64: string;
  readonly speaks: Protocol;
  readonly person: Person;
  /** Who holds it, for a spot check; a monitor measures by itself. */
  readonly operator?: Identifier;
}

export interface WardPlan {
  readonly devices: number;
  readonly kinds: readonly DeviceKind[];
  readonly speak: readonly Protocol[];
  readonly seed: number;
}

const STAFF_SYSTEM = 'urn:example:staff';

/** How many people the devices are for: one of each kind at every bed. */
export function bedsOf({ devices, kinds }: Pick<WardPlan, 'devices' | 'kinds'>): number {
  return Math.ceil(devices / kinds.length);
}

/** Every kind comes to talk every protocol, and those at one bed do not all talk the same. */
export function makeDevices(plan: WardPlan, people: readonly Person[]): SimulatedDevice[] {
  const { devices, kinds, speak } = plan;
  return Array.from({ length: devices }, (_, index) => {
    const bed = Math.floor(index / kinds.length);
    const kind = kinds[index % kinds.length];
    const person = people[bed % people.length];
    const speaks = speak[(index + bed) % speak.length];
    if (kind === undefined || person === undefined || speaks === undefined) {
      throw new RangeError('a ward needs a kind of device, a protocol and a person');
    }
    const operator = STAFF[bed % STAFF.length] ?? STAFF[0];
    return {
      ...{ kind, speaks, person, number: bed + 1, eui64: eui64Of(plan.seed, index) },
      ...(kind !== 'monitor' && { operator: { system: STAFF_SYSTEM, value: operator } }),
    };
  });
}

/**
 * Locally administered (the second bit of the first byte, IEEE guidelines for EUI-64), so that it is no
 * real device's; wards of different seeds have different devices.
 */
function eui64Of(seed: number, index: number): string {
  const hex = (number: number, digits: number): string =>
    number.toString(16).padStart(digits, '0').slice(-digits);
  return writeEui64(`0a${hex(seed, 4)}fffe${hex(index + 1, 6)}`) ?? '';
}

export function identifierOf({ eui64 }: SimulatedDevice): Identifier {
  return { system: EUI64_SYSTEM, value: eui64 };
}

/** “oximeter 3”. */
export function nameOf({ kind, number }: SimulatedDevice): string {
  return `${kind} ${number}`;
}
