import type { Moment } from '../../vitals/shapes.js';

/**
 * A moment as FHIR R4 `dateTime`, in the offset in which it was told: to the second, and to the
 * millisecond only where there are any.
 */
export function renderMoment({ epochMs, offsetMinutes }: Moment): string {
  const local = new Date(epochMs + offsetMinutes * 60_000).toISOString();
  return local.slice(0, epochMs % 1000 === 0 ? -5 : -1) + renderOffset(offsetMinutes);
}

function renderOffset(offsetMinutes: number): string {
  if (offsetMinutes === 0) return 'Z';
  const minutes = Math.abs(offsetMinutes);
  const clock = `${pad(Math.floor(minutes / 60))}:${pad(minutes % 60)}`;
  return `${offsetMinutes < 0 ? '-' : '+'}${clock}`;
}

function pad(number: number): string {
  return String(number).padStart(2, '0');
}
