/** How long after its own time the readings of a device arrived: what its clock can be told by. */
import type { Limits } from '../vitals/limits.js';
import type { Identifier, JudgingContext, Reading } from '../vitals/shapes.js';

export interface DeviceDelay {
  readonly device: Identifier | null;
  readonly takenAtMs: number;
  readonly readings: readonly number[];
  /** Below zero: the time told lies after the arrival. */
  readonly delayMs: number;
}

const HOUR_MS = 3_600_000;

/**
 * The delays of a set that a device timed: one of an unattended source, or one all of whose readings name
 * a device. In other sets the time is that of a person, who may well enter it an hour later.
 */
export function deviceDelays({
  set,
  source,
  receivedAtMs,
}: JudgingContext): readonly DeviceDelay[] {
  const { readings } = set;
  if (source.attended && readings.some(({ device }) => device === null)) return [];
  const delays: {
    device: Identifier | null;
    takenAtMs: number;
    readings: number[];
    delayMs: number;
  }[] = [];
  for (const { index, device, takenAt } of readings) {
    const known = delays.find(
      (one) => one.takenAtMs === takenAt.epochMs && isSameDevice(one.device, device),
    );
    if (known !== undefined) known.readings.push(index);
    else {
      const { epochMs: takenAtMs } = takenAt;
      delays.push({ device, takenAtMs, readings: [index], delayMs: receivedAtMs - takenAtMs });
    }
  }
  return delays;
}

export function isSameDevice(a: Reading['device'], b: Reading['device']): boolean {
  return a === b || (a !== null && b !== null && a.system === b.system && a.value === b.value);
}

/** The whole number of hours, not none, that a delay is near to; null: it is near to none. */
export function wholeHours(delayMs: number, limits: Limits): number | null {
  const hours = Math.round(delayMs / HOUR_MS);
  const awayMs = Math.abs(delayMs - hours * HOUR_MS);
  if (hours === 0 || awayMs > limits.ms('device-clock-hours-off.tolerance')) return null;
  return Math.abs(hours) > limits.at('device-clock-hours-off.most') ? null : hours;
}
