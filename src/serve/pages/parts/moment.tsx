/** A time as the site's clocks showed it, with their offset: nobody has to guess a zone. */
const formats = new Map<string, Intl.DateTimeFormat>();

function formatOf(zone: string): Intl.DateTimeFormat {
  const known = formats.get(zone);
  if (known !== undefined) return known;
  const format = new Intl.DateTimeFormat('en-GB', {
    ...{ year: 'numeric', month: '2-digit', day: '2-digit' },
    ...{ hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' },
    ...{ timeZone: zone, timeZoneName: 'longOffset' },
  });
  formats.set(zone, format);
  return format;
}

/** `2026-03-01 08:15 +01:00`; with seconds `2026-03-01 08:15:00 +01:00`. `zone` is an IANA name. */
export function writeMoment(atMs: number, zone: string, seconds = false): string {
  const parts = formatOf(zone).formatToParts(atMs);
  const part = (type: string): string => parts.find((one) => one.type === type)?.value ?? '';
  // "GMT" alone is an offset of nothing.
  const offset = part('timeZoneName').replace('GMT', '') || '+00:00';
  const time = [part('hour'), part('minute'), ...(seconds ? [part('second')] : [])].join(':');
  // The offset stays with its time.
  return `${part('year')}-${part('month')}-${part('day')} ${time}\u00a0${offset}`;
}

const MINUTE_MS = 60_000;

/** RFC 3339 with the offset that the time was told with, to the millisecond where it has any. */
export function writeOffset(atMs: number, offsetMinutes: number): string {
  const local = new Date(atMs + offsetMinutes * MINUTE_MS).toISOString().replace(/\.000Z$|Z$/, '');
  const size = Math.abs(offsetMinutes);
  const two = (number: number): string => String(number).padStart(2, '0');
  return `${local}${offsetMinutes < 0 ? '-' : '+'}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

interface MomentFacts {
  /** Milliseconds since the epoch. */
  readonly atMs: number;
  /** IANA name of the site's zone. */
  readonly zone: string;
  readonly seconds?: boolean;
}

export function Moment({ atMs, zone, seconds }: MomentFacts) {
  return (
    <time dateTime={new Date(atMs).toISOString()}>{writeMoment(atMs, zone, seconds ?? false)}</time>
  );
}
