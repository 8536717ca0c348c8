/** What is registered of the device of a reading, and whose the device was. */
import type {
  Association,
  DeviceFacts,
  JudgingContext,
  NormalisedSet,
  Reading,
} from '../vitals/shapes.js';
import { isSameDevice } from './device-delays.js';
import { isTimeKnown } from './report-doubts.js';
import { subjectOf } from './report-rule.js';
import { NO_REMARKS, type Remark } from './rule.js';

function deviceOf(
  { device }: Reading,
  { devices }: Pick<JudgingContext, 'devices'>,
): DeviceFacts | null {
  if (device === null || devices === undefined) return null;
  return devices.find((each) => isSameDevice(each.device, device)) ?? null;
}

/** Readings whose registered device is one that must not have brought them. */
export function readingsWhere(
  context: JudgingContext,
  isWrong: (registered: NonNullable<DeviceFacts['registered']>, reading: Reading) => boolean,
): readonly Reading[] {
  if (context.devices === undefined) return NONE;
  return context.set.readings.filter((reading) => {
    const registered = deviceOf(reading, context)?.registered ?? null;
    return registered !== null && isWrong(registered, reading);
  });
}

const NONE: readonly Reading[] = [];

/** Whose the device of a reading was, as far as anybody recorded it. */
interface Whose {
  readonly clock: DeviceFacts['clock'];
  /** The one that covers the time of the reading; where that is not known, the time of its arrival. */
  readonly then: Association | null;
  /** The one that holds at the arrival. */
  readonly now: Association | null;
}

/** An end belongs to what comes next. Where two overlap by mistake, another's counts. */
function covering(all: readonly Association[], atMs: number): Association | null {
  const found = all.filter(({ fromMs, toMs }) => fromMs <= atMs && (toMs === null || atMs < toMs));
  return found.find(({ ofThisPatient }) => !ofThisPatient) ?? found[0] ?? null;
}

/** Null: nobody ever recorded whose the device of the reading is, or it has none. */
export function whoseWas(reading: Reading, context: JudgingContext): Whose | null {
  const facts = deviceOf(reading, context);
  if (facts === null || facts.associations.length === 0) return null;
  const { associations, clock } = facts;
  const atMs = isTimeKnown(reading) ? reading.takenAt.epochMs : context.receivedAtMs;
  return {
    clock,
    then: covering(associations, atMs),
    now: covering(associations, context.receivedAtMs),
  };
}

/** The time lies before the device was given to whoever has it now, and it was not this patient's then. */
export function isBeforeNow({ takenAt }: Reading, { then, now }: Whose): boolean {
  return then?.ofThisPatient !== true && now !== null && takenAt.epochMs < now.fromMs;
}

/**
 * One remark about the readings that may be somebody else's. It names them also where it is each of the
 * set: what is doubted is these readings, not whom the set names.
 */
export function remarkOnWhose(
  set: NormalisedSet,
  concerned: readonly Reading[],
  { clause, ...rest }: { readonly clause: string } & Omit<Remark, 'readings' | 'message'>,
): readonly Remark[] {
  if (concerned.length === 0) return NO_REMARKS;
  return [
    {
      readings: concerned.map(({ index }) => index).sort((a, b) => a - b),
      message: `${subjectOf(concerned, set)}: ${clause}.`,
      ...rest,
    },
  ];
}

/** Typed by a person with the patient at hand, who names the patient; the device is named beside. */
export function isTyped({ report }: Reading, { set, source }: JudgingContext): boolean {
  const named = set.claim === undefined || set.claim.by === 'named';
  return report === undefined && source.attended && named;
}
