/** The changes that a hand makes to the form: each gives a new form and leaves the old one. */
import { CATALOGUE } from '../../../vitals/catalogue.js';
import type { EnteredUnit } from '../../../vitals/words.js';
import type { SiteDefaults } from '../door.js';
import {
  NO_CHOICES,
  type ChosenPatient,
  type Entry,
  type Reminder,
  type SetForm,
} from './set-form.js';
import { stepOf, type Field, type StepId } from './steps.js';

export function emptyForm(setId: string, patient: ChosenPatient): SetForm {
  return { setId, patient, position: null, reminded: [], entries: [], nextEntry: 1 };
}

/** A single way to do a step is told by the step itself. */
function newEntry(id: number, step: StepId): Entry {
  const { ways } = stepOf(step);
  return {
    ...{ id, step },
    ...NO_CHOICES,
    method: ways.length === 1 ? (ways[0]?.method ?? null) : null,
    takenAt: null,
    counted: null,
    numbers: {},
    units: {},
    code: null,
    absent: null,
    regular: null,
    armAtHeartLevel: null,
    armCircumference: '',
    sinceHotDrink: null,
    sinceColdDrink: null,
    confirmed: false,
    note: '',
  };
}

/** The form with an entry of this step to fill: the last one, or a new one. */
export function openStep(form: SetForm, step: StepId): { form: SetForm; entry: Entry } {
  const last = form.entries.findLast((entry) => entry.step === step);
  return last === undefined ? addEntry(form, step) : { form, entry: last };
}

/** A further measurement of the same step, by its side. */
export function addEntry(form: SetForm, step: StepId): { form: SetForm; entry: Entry } {
  const entry = newEntry(form.nextEntry, step);
  const entries = [...form.entries, entry];
  return { form: { ...form, entries, nextEntry: form.nextEntry + 1 }, entry };
}

export function changeEntry(form: SetForm, id: number, change: Partial<Entry>): SetForm {
  const entries = form.entries.map((entry) => (entry.id === id ? { ...entry, ...change } : entry));
  return { ...form, entries };
}

/** Takes an entry out of the form, as if it had not been begun. */
export function dropEntry(form: SetForm, id: number): SetForm {
  return { ...form, entries: form.entries.filter((entry) => entry.id !== id) };
}

export function toggleReminder(form: SetForm, reminder: Reminder): SetForm {
  const reminded = form.reminded.includes(reminder)
    ? form.reminded.filter((one) => one !== reminder)
    : [...form.reminded, reminder];
  return { ...form, reminded };
}

/**
 * The unit of a field: as chosen, else the site's, else the one in which the sign is kept. The parts of a
 * pressure have one unit, that of the first.
 */
export function unitOf(entry: Entry, { vital }: Field, units: SiteDefaults['units']): EnteredUnit {
  const first = stepOf(entry.step).fields.find((field) => field.vital === vital);
  const { unit, unitsTaken } = CATALOGUE[vital];
  const usual = unitsTaken.find((one) => one === units[vital]);
  return (first && entry.units[first.name]) ?? usual ?? unit ?? '/min';
}

/** Whether there is anything to send of it. */
export function isFilled(entry: Entry): boolean {
  const { fields } = stepOf(entry.step);
  return (
    entry.absent !== null ||
    entry.counted !== null ||
    entry.code !== null ||
    fields.some(({ name }) => (entry.numbers[name] ?? '') !== '')
  );
}

/** Pressure and pulse are checked against each other by method, so it must be said. */
export function lacksMethod(entry: Entry): boolean {
  return entry.method === null && entry.absent === null && stepOf(entry.step).ways.length > 1;
}

/** Every number that belongs to the step is there; by touch only a systolic can be felt. */
export function isComplete(entry: Entry): boolean {
  if (!isFilled(entry) || lacksMethod(entry)) return false;
  if (entry.absent !== null) return true;
  return stepOf(entry.step).fields.every(
    ({ name, optional }) =>
      optional ||
      (entry.numbers[name] ?? '') !== '' ||
      (name === 'diastolic' && entry.method === 'palpation'),
  );
}
