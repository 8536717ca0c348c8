/**
 * Coincident time stamps (HL7 Personal Health Device guide, PhdCoincidentTimeStampObservation): what the
 * clock of a device showed at a time of its gateway. Times of readings are corrected by the sender already;
 * the offset tells what the device's own clock showed.
 */
import { asObject, asText, type Json } from './sent-entry.js';
import { readMoment } from './read-time.js';
import { MDC_SYSTEM } from '../../vitals/codes.js';

/** MDC: absolute time, base offset time, relative time. */
const CODES: readonly unknown[] = ['67975', '68225', '67983'];

export type Stamp =
  | { readonly kind: 'offset'; readonly offsetMs: number; readonly shownMs: number }
  /** The device could not tell its time. */
  | { readonly kind: 'fault' }
  /** It counts ticks: there is no time of day to hold against another. */
  | { readonly kind: 'ticks' };

/** Undefined: the resource is no coincident time stamp. */
export function readStamp(resource: Json): Stamp | undefined {
  const { resourceType, code, effectiveDateTime, valueDateTime, dataAbsentReason } = resource;
  const { coding } = asObject(code);
  const isStamp =
    Array.isArray(coding) &&
    coding.map(asObject).some((one) => one.system === MDC_SYSTEM && CODES.includes(one.code));
  if (resourceType !== 'Observation' || !isStamp) return undefined;
  if (dataAbsentReason !== undefined) return { kind: 'fault' };
  const shownMs = readMoment(asText(valueDateTime) ?? '');
  const trueMs = readMoment(asText(effectiveDateTime) ?? '');
  if (shownMs === null || trueMs === null) return { kind: 'ticks' };
  return { kind: 'offset', offsetMs: shownMs - trueMs, shownMs };
}

/** What the device's clock showed at that time, in the same offset (RFC 3339). */
export function deviceTimeAt(takenAt: string, offsetMs: number): string | undefined {
  const takenMs = readMoment(takenAt);
  if (takenMs === null || offsetMs === 0) return undefined;
  const zone = /(?:Z|[+-]\d{2}:\d{2})$/.exec(takenAt)?.[0] ?? 'Z';
  const [, sign, hours = '0', minutes = '0'] = /^([+-])(\d{2}):(\d{2})$/.exec(zone) ?? [];
  const eastMs = (sign === '-' ? -1 : 1) * (Number(hours) * 60 + Number(minutes)) * 60_000;
  const local = new Date(takenMs + offsetMs + eastMs);
  if (Number.isNaN(local.getTime())) return undefined;
  const text = local.toISOString();
  return `${text.endsWith('.000Z') ? text.slice(0, -5) : text.slice(0, -1)}${zone}`;
}
