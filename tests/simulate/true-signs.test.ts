import { noiseOf } from '../../src/demo/noise.js';
import { measure } from '../../src/simulate/devices/measure.js';
import type { IncomingReading } from '../../src/vitals/shapes.js';
import { trueSigns } from '../../src/simulate/true-signs.js';
import { AT, PEOPLE, devicesOf } from './simulated-ward.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const SIGNS = ['pulse', 'breaths', 'saturation', 'systolic', 'diastolic', 'temperature'] as const;

/** How far a device may be from another at the same bed: the sum of their own errors, rounded. */
const OWN_ERRORS = { 'pulse-rate': 4, 'oxygen-saturation': 3, 'blood-pressure': 6 } as const;

function mainNumber({ value, systolic }: IncomingReading): number {
  return Number(value ?? systolic);
}

describe('the signs of a simulated person', () => {
  it('are the same whenever they are asked for', () => {
    for (const person of PEOPLE) {
      expect(trueSigns(person, AT.epochMs)).toEqual(trueSigns(person, AT.epochMs));
    }
  });

  it('drift: by little in a minute, and not at the same pace for everybody', () => {
    for (const person of PEOPLE) {
      for (let minute = 0; minute < 24 * 60; minute += 7) {
        const atMs = AT.epochMs + minute * MINUTE_MS;
        const [now, then] = [trueSigns(person, atMs), trueSigns(person, atMs + MINUTE_MS)];
        for (const sign of SIGNS)
          expect(Math.abs(now[sign] - then[sign])).toBeLessThan(now[sign] / 60);
      }
    }
    const pulses = PEOPLE.map((person) => trueSigns(person, AT.epochMs).pulse / person.usual.pulse);
    expect(new Set(pulses.map((share) => share.toFixed(3))).size).toBeGreaterThan(10);
  });

  it('stay near what is usual for the person through a week', () => {
    for (const person of PEOPLE) {
      for (let hour = 0; hour < 7 * 24; hour += 1) {
        const signs = trueSigns(person, AT.epochMs + hour * HOUR_MS);
        for (const sign of SIGNS) {
          const away = Math.abs(signs[sign] - person.usual[sign]) / person.usual[sign];
          expect(away).toBeLessThan(sign === 'temperature' ? 0.02 : 0.2);
        }
      }
    }
  });

  it('follow the hour of the day: warmer in the afternoon than in the morning', () => {
    const mean = (hour: number): number => {
      const temperatures = PEOPLE.flatMap((person) =>
        [0, 1, 2, 3, 4].map(
          (day) => trueSigns(person, Date.UTC(2026, 5, 10 + day, hour, 30)).temperature,
        ),
      );
      return temperatures.reduce((total, each) => total + each, 0) / temperatures.length;
    };
    expect(mean(17) - mean(5)).toBeGreaterThan(0.4);
  });

  it('are what all devices at the bed measure, each with its own small error', () => {
    for (const person of PEOPLE) {
      const readings = devicesOf('json')
        .filter((device) => device.person === person)
        .flatMap((device) => measure(device, AT.epochMs, 0, noiseOf(device.eui64)))
        .map(({ reading }) => reading);
      for (const [vital, most] of Object.entries(OWN_ERRORS)) {
        const numbers = readings.filter((one) => one.vital === vital).map(mainNumber);
        expect(numbers.length).toBeGreaterThan(1);
        expect(Math.max(...numbers) - Math.min(...numbers)).toBeLessThanOrEqual(most);
      }
    }
  });
});
