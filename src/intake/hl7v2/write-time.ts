import type { Moment } from '../../vitals/shapes.js';

/** Writes a moment as DTM with milliseconds and zone: `20260301070605.040+0100` (HL7 v2.9.1 §2A.2.22). */
export function writeTime(moment: Moment): string {
  const local = new Date(moment.epochMs + moment.offsetMinutes * 60_000);
  const digits = local.toISOString().replace(/[-T:Z]/g, '');
  const size = Math.abs(moment.offsetMinutes);
  const hours = String(Math.floor(size / 60)).padStart(2, '0');
  const minutes = String(size % 60).padStart(2, '0');
  return `${digits}${moment.offsetMinutes < 0 ? '-' : '+'}${hours}${minutes}`;
}
