import type { ReportDoubt } from '../../vitals/device-report.js';
import type { SourceProfile } from '../../vitals/source-profile.js';
import { zoneClock } from '../../vitals/zone-time.js';
import { readTime, type ReadTime, type SupposedZone, type TimeFault } from './read-time.js';

/** A time of measuring, and what is doubtful about it. */
export interface ToldTime {
  /** RFC 3339; absent where no moment can be named: the doubt says why. */
  readonly takenAt?: string;
  readonly epochMs?: number;
  readonly doubts: readonly ReportDoubt[];
  /** What a device's clock showed where that cannot be the time of measuring. RFC 3339. */
  readonly deviceTime?: string;
  /** As sent, where no moment could be named. */
  readonly asSent?: string;
}

export const NO_TIME: ToldTime = { doubts: ['time-missing'] };

/** A clock that shows an earlier year was never set (common practice, no source). */
const FIRST_SOUND_MS = Date.UTC(2000, 0, 1);
const MAX_KEPT_CHARACTERS = 40;

/** Reads the times of one message, each text once. */
export class MomentReader {
  readonly #supposed: SupposedZone | null;
  readonly #shown: SupposedZone | null;
  readonly #told = new Map<string, ToldTime>();

  /**
   * @param sentIn zone of MSH-7, which stands for that of every time without one (HL7 v2.9.1 §2.13.9.7)
   * @param profile its zone comes after that; the gateway's own is never used
   */
  constructor(sentIn: SupposedZone | null, profile: Pick<SourceProfile, 'zone'>) {
    const registered = registeredZone(profile.zone);
    this.#supposed = sentIn ?? registered;
    this.#shown = registered ?? sentIn;
  }

  /** A time of measuring. */
  told(text: string): ToldTime {
    let told = this.#told.get(text);
    if (told === undefined) {
      told = toldTime(text, readTime(text, this.#supposed));
      this.#told.set(text, told);
    }
    return told;
  }

  /** A moment, at least to the minute; null: the text names none. */
  moment(text: string): ReadTime | null {
    return soundMoment(readTime(text.trim(), this.#supposed));
  }

  /**
   * What the face of a device's clock shows. It goes by the ward's clocks, whatever zone the sender's
   * own times are in: so the registered zone comes first.
   */
  shown(text: string): ReadTime | null {
    return soundMoment(readTime(text.trim(), this.#shown));
  }
}

const clocks = new Map<string, SupposedZone>();

/** Null: none is registered, or this program does not know it. */
function registeredZone(name: string | null): SupposedZone | null {
  if (name === null) return null;
  const kept = clocks.get(name);
  if (kept !== undefined) return kept;
  try {
    const zone: SupposedZone = { kind: 'zone', clock: zoneClock(name) };
    clocks.set(name, zone);
    return zone;
  } catch {
    return null;
  }
}

const TOO_COARSE: ReadonlySet<string> = new Set(['year', 'month', 'day', 'hour']);

function soundMoment(time: ReadTime | TimeFault): ReadTime | null {
  return time.kind === 'fault' || TOO_COARSE.has(time.precision) ? null : time;
}

function toldTime(text: string, time: ReadTime | TimeFault): ToldTime {
  const asSent = text.slice(0, MAX_KEPT_CHARACTERS);
  if (time.kind === 'fault') {
    const zone = time.reason === 'zoneless' || time.reason === 'ambiguous';
    return { doubts: [zone ? 'time-zone-missing' : 'time-missing'], asSent };
  }
  if (TOO_COARSE.has(time.precision)) return { doubts: ['time-imprecise'], asSent };
  if (time.epochMs < FIRST_SOUND_MS) {
    return { doubts: ['clock-unset'], deviceTime: writeMoment(time), asSent };
  }
  const doubts: readonly ReportDoubt[] = time.precision === 'minute' ? ['time-to-minute-only'] : [];
  return { takenAt: writeMoment(time), epochMs: time.epochMs, doubts };
}

/** RFC 3339; `-00:00` where the sender's offset is not known (§4.3 there). */
export function writeMoment({ epochMs, offsetMinutes, offsetKnown }: ReadTime): string {
  const local = new Date(epochMs + offsetMinutes * 60_000).toISOString();
  const size = Math.abs(offsetMinutes);
  const sign = offsetMinutes < 0 || !offsetKnown ? '-' : '+';
  const two = (part: number) => String(part).padStart(2, '0');
  return `${local.replace(/(?:\.000)?Z$/, '')}${sign}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}
