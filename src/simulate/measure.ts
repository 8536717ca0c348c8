/** What each kind of device reads from a body: true signs, and the device's own small error. */
import type { Noise } from '../demo/noise.js';
import type { IncomingReading } from '../vitals/shapes.js';
import { identifierOf } from './device.js';
import type { DeviceKind, SimulatedDevice } from './device.js';
import type { Person } from './person.js';
import { trueSigns } from './true-signs.js';

type Signs = ReturnType<typeof trueSigns>;

/** What a device says of its own signal. `lost`: there is no value. */
export type Signal = 'good' | 'questionable' | 'lost';

/** One reading of a device. */
export interface Sample {
  readonly reading: IncomingReading;
  readonly signal: Signal;
  /** Of an oximeter, in percent: how strong the pulse is at its probe. */
  readonly perfusion?: string;
}

type Measured = Omit<Sample, 'signal'>;

/** A monitor takes a pressure with every so many-th of its messages. */
const PRESSURE_EVERY = 5;

function pulse(
  method: 'electrocardiography' | 'pulse-oximetry' | 'oscillometry',
  { pulse: rate }: Signs,
  noise: Noise,
): IncomingReading {
  const value = Math.round(rate + noise.around(1.4));
  return { vital: 'pulse-rate', method, value, unit: '/min' };
}

function breathing({ breaths }: Signs, noise: Noise): IncomingReading {
  const value = Math.round(breaths + noise.around(1));
  return { vital: 'respiratory-rate', method: 'impedance', value, unit: '/min' };
}

function oximetry({ taken }: Person, signs: Signs, noise: Noise): Measured[] {
  const site = taken === 'baby' ? 'foot' : 'finger';
  const value = Math.min(100, Math.round(signs.saturation + noise.around(0.8)));
  const perfusion = noise.between(1.2, 6.5).toFixed(1);
  return [
    {
      reading: { vital: 'oxygen-saturation', method: 'pulse-oximetry', site, value, unit: '%' },
      perfusion,
    },
    { reading: { ...pulse('pulse-oximetry', signs, noise), site } },
  ];
}

function pressure(signs: Signs, noise: Noise): Measured {
  const systolic = Math.round(signs.systolic + noise.around(2.5));
  const diastolic = Math.round(signs.diastolic + noise.around(2));
  const mean = Math.round(diastolic + (0.36 + noise.around(0.02)) * (systolic - diastolic));
  const how = { method: 'oscillometry', site: 'upper-arm', side: 'left' } as const;
  return {
    reading: { vital: 'blood-pressure', ...how, systolic, diastolic, mean, unit: 'mm[Hg]' },
  };
}

function temperature({ taken, fahrenheit }: Person, signs: Signs, noise: Noise): Measured {
  const site = ({ baby: 'axillary', child: 'tympanic', adult: 'oral' } as const)[taken];
  const celsius = signs.temperature + noise.around(0.08);
  const shown =
    fahrenheit === true
      ? { value: (celsius * 1.8 + 32).toFixed(1), unit: '[degF]' }
      : { value: celsius.toFixed(1), unit: 'Cel' };
  return { reading: { vital: 'body-temperature', method: 'thermometry', site, ...shown } };
}

type Measuring = (person: Person, signs: Signs, noise: Noise, round: number) => Measured[];

const MEASURING: Readonly<Record<DeviceKind, Measuring>> = {
  monitor: (person, signs, noise, round) => [
    { reading: pulse('electrocardiography', signs, noise) },
    { reading: breathing(signs, noise) },
    ...oximetry(person, signs, noise),
    ...(round % PRESSURE_EVERY === 0 ? [pressure(signs, noise)] : []),
  ],
  thermometer: (person, signs, noise) => [temperature(person, signs, noise)],
  oximeter: (person, signs, noise) => oximetry(person, signs, noise),
  cuff: (_person, signs, noise) => [
    pressure(signs, noise),
    { reading: pulse('oscillometry', signs, noise) },
  ],
};

/**
 * All that a device reads at a moment.
 * @param round which of its measurements it is, counted from 0
 */
export function measure(
  device: SimulatedDevice,
  atMs: number,
  round: number,
  noise: Noise,
): readonly Sample[] {
  const signs = trueSigns(device.person, atMs);
  return MEASURING[device.kind](device.person, signs, noise, round).map((measured) => ({
    ...measured,
    reading: { ...measured.reading, device: { identifier: identifierOf(device) } },
    signal: 'good',
  }));
}
