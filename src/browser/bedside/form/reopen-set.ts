/** A set that was refused, back in the form: each reading an entry of its own. */
import type { EnteredUnit } from '../../../vitals/words.js';
import type { SetJson } from '../door.js';
import { addEntry, changeEntry, emptyForm } from './change-form.js';
import type { CountSeconds } from './count.js';
import type { Entry, SetForm } from './set-form.js';
import { STEPS, type Step } from './steps.js';

type ReadingJson = SetJson['readings'][number];

export function reopenSet(set: SetJson, setId: string): SetForm {
  const patient = { claimed: set.patient, found: null, unregistered: 'not-asked' } as const;
  let form: SetForm = { ...emptyForm(setId, patient), position: set.position ?? null };
  for (const reading of set.readings) {
    const step = stepFor(reading);
    if (step === undefined) continue;
    const added = addEntry(form, step.id);
    const change = entryOf(reading, step, reading.takenAt ?? set.takenAt);
    form = changeEntry(added.form, added.entry.id, change);
  }
  return form;
}

/** The step that yields such a reading: by sign and way; what is absent may have no way. */
function stepFor(reading: ReadingJson): Step | undefined {
  const ofSign = STEPS.filter(
    ({ vital, fields }) =>
      vital === reading.vital || fields.some((field) => field.vital === reading.vital),
  );
  const byWay = ofSign.find(({ ways }) =>
    ways.some(({ method }) => method === (reading.method ?? null)),
  );
  return byWay ?? ofSign.find(({ vital }) => vital === reading.vital);
}

/** What one entry of that step says as this reading does. */
export function entryOf(reading: ReadingJson, step: Step, takenAt: string): Partial<Entry> {
  const fields = step.fields.filter(({ vital }) => vital === reading.vital);
  const typed = fields.flatMap(({ name, part }) =>
    reading[part] === undefined ? [] : [[name, String(reading[part])] as const],
  );
  const unit = reading.unit as EnteredUnit | undefined;
  return {
    takenAt,
    method: reading.method ?? null,
    site: reading.site ?? null,
    side: reading.side ?? null,
    cuffSize: reading.cuffSize ?? null,
    counted:
      reading.count === undefined
        ? null
        : { count: reading.count, seconds: reading.seconds as CountSeconds },
    numbers: Object.fromEntries(typed),
    units: unit === undefined ? {} : Object.fromEntries(fields.map(({ name }) => [name, unit])),
    code: reading.code ?? null,
    absent: reading.absent ?? null,
    regular: reading.regular ?? null,
    armAtHeartLevel: reading.armAtHeartLevel ?? null,
    armCircumference: String(reading.armCircumferenceCm ?? ''),
    sinceHotDrink: reading.minutesSinceHotDrink ?? null,
    sinceColdDrink: reading.minutesSinceColdDrink ?? null,
    confirmed: reading.confirmed ?? false,
    note: reading.note ?? '',
  };
}
