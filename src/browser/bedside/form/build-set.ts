/** The form as the set that is checked and sent, and which entry each of its readings is of. */
import type { Vital } from '../../../vitals/words.js';
import type { SetJson, SiteDefaults } from '../door.js';
import { isFilled, lacksMethod, unitOf } from './change-form.js';
import { writtenNumber } from './key-pad.js';
import type { Entry, SetForm } from './set-form.js';
import { stepOf, vitalsOf, type Step } from './steps.js';

type ReadingJson = SetJson['readings'][number];

export interface BuiltSet {
  readonly set: SetJson;
  /** By index of the reading. */
  readonly entryIds: readonly number[];
}

/**
 * Null: there is nothing to send yet.
 * @param except an entry that is still being typed
 */
export function buildSet(
  form: SetForm,
  units: SiteDefaults['units'],
  except: number | null = null,
): BuiltSet | null {
  const entries = form.entries
    .filter((entry) => entry.id !== except && isFilled(entry) && !lacksMethod(entry))
    .sort(inOrder);
  const takenAt = entries[0]?.takenAt;
  if (takenAt === undefined || takenAt === null) return null;
  const rows = entries.flatMap((entry) =>
    readingsOf(entry, units).map((reading) => ({ entry, reading })),
  );
  const set: SetJson = {
    setId: form.setId,
    patient: form.patient.claimed,
    takenAt,
    ...(form.position !== null && { position: form.position }),
    readings: rows.map(({ entry, reading }) =>
      entry.takenAt === takenAt || entry.takenAt === null
        ? reading
        : { ...reading, takenAt: entry.takenAt },
    ),
  };
  return { set, entryIds: rows.map(({ entry }) => entry.id) };
}

/** As they were measured; RFC 3339 times of one offset sort as text, else the instants are compared. */
function inOrder(a: Entry, b: Entry): number {
  const [one, other] = [a, b].map(({ takenAt }) => (takenAt === null ? 0 : Date.parse(takenAt)));
  return (one ?? 0) - (other ?? 0) || a.id - b.id;
}

/** What one entry tells: one reading, or two where the instrument shows two signs. */
export function readingsOf(entry: Entry, units: SiteDefaults['units']): ReadingJson[] {
  const step = stepOf(entry.step);
  if (entry.absent !== null) {
    return [{ vital: step.vital, ...wayOf(entry), absent: entry.absent, ...noteOf(entry) }];
  }
  return vitalsOf(step).flatMap((vital) => {
    const value = valueOf(step, vital, entry, units);
    if (value === null) return [];
    // A remark is about the act of measuring and stands once, with its first sign.
    const note = vital === step.vital ? noteOf(entry) : {};
    return [{ vital, ...wayOf(entry), ...value, ...contextOf(entry, vital), ...note }];
  });
}

function valueOf(
  step: Step,
  vital: Vital,
  entry: Entry,
  units: SiteDefaults['units'],
): Partial<ReadingJson> | null {
  if (step.kind === 'count') return entry.counted;
  if (step.kind === 'code') return entry.code === null ? null : { code: entry.code };
  const typed = step.fields.flatMap((field) => {
    const number = field.vital === vital ? writtenNumber(entry.numbers[field.name] ?? '') : null;
    return number === null ? [] : [{ field, number }];
  });
  const [first] = typed;
  if (first === undefined) return null;
  const parts = Object.fromEntries(typed.map(({ field, number }) => [field.part, number]));
  return { ...parts, unit: unitOf(entry, first.field, units) };
}

function wayOf({ method, site, side }: Entry): Partial<ReadingJson> {
  return {
    ...(method !== null && { method }),
    ...(site !== null && { site }),
    ...(side !== null && { side }),
  };
}

function contextOf(entry: Entry, vital: Vital): Partial<ReadingJson> {
  const { regular, confirmed } = entry;
  return {
    ...(regular !== null && { regular }),
    ...(confirmed && { confirmed }),
    ...(vital === 'blood-pressure' && cuffOf(entry)),
    ...(entry.site === 'oral' && drinksOf(entry)),
  };
}

function cuffOf({ cuffSize, armAtHeartLevel, armCircumference }: Entry): Partial<ReadingJson> {
  const armCircumferenceCm = Number(armCircumference);
  return {
    ...(cuffSize !== null && { cuffSize }),
    ...(armAtHeartLevel !== null && { armAtHeartLevel }),
    ...(armCircumferenceCm > 0 && { armCircumferenceCm }),
  };
}

function drinksOf({ sinceHotDrink, sinceColdDrink }: Entry): Partial<ReadingJson> {
  return {
    ...(sinceHotDrink !== null && { minutesSinceHotDrink: sinceHotDrink }),
    ...(sinceColdDrink !== null && { minutesSinceColdDrink: sinceColdDrink }),
  };
}

function noteOf({ note }: Entry): Partial<ReadingJson> {
  const text = note.trim();
  return text === '' ? {} : { note: text };
}
