/** Messages of the simulated ward, for tests that need no gateway. */
import { noiseOf } from '../../src/demo/noise.js';
import { makeDevices } from '../../src/simulate/device.js';
import type { Protocol, SimulatedDevice } from '../../src/simulate/device.js';
import { DEVICE_KINDS } from '../../src/simulate/device.js';
import { spoil } from '../../src/simulate/faults.js';
import type { Fault } from '../../src/simulate/faults.js';
import { inventPeople } from '../../src/simulate/invent-people.js';
import { takeMeasurement } from '../../src/simulate/measurement.js';
import type { Measurement } from '../../src/simulate/measurement.js';

/** An evening in a zone that is not UTC. */
export const AT = { epochMs: Date.parse('2026-06-10T17:37:12.250Z'), offsetMinutes: 330 };

/** Of all ages: the demo ward and some more. */
export const PEOPLE = inventPeople(15, AT.epochMs);

export function devicesOf(speak: Protocol): SimulatedDevice[] {
  const devices = PEOPLE.length * DEVICE_KINDS.length;
  return makeDevices({ devices, kinds: DEVICE_KINDS, speak: [speak], seed: 7 }, PEOPLE);
}

/** One measurement of each device, all with this fault. */
export function measurementsOf(speak: Protocol, fault: Fault | null): Measurement[] {
  return devicesOf(speak).map((device, index) => {
    const noise = noiseOf(`${device.eui64} ${fault ?? ''}`);
    const stranger = PEOPLE[(PEOPLE.indexOf(device.person) + 7) % PEOPLE.length] ?? device.person;
    // Every fifth message of a monitor has a pressure.
    return spoil(takeMeasurement(device, AT, index % 5, noise), fault, noise, stranger);
  });
}
