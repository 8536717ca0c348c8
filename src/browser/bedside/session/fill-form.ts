/** What hands do to the form. */
import type { AbsentReason, Position } from '../../../vitals/words.js';
import {
  addEntry,
  changeEntry,
  dropEntry,
  isFilled,
  openStep as openStepOf,
  toggleReminder,
} from '../form/change-form.js';
import { noteChoices } from '../form/offer-choices.js';
import type { Choices, Entry, Reminder, SetForm } from '../form/set-form.js';
import { stepOf, type FieldName, type StepId } from '../form/steps.js';
import type { Session } from './surroundings.js';

export function entryOf(form: SetForm | null, id: number): Entry | null {
  return form?.entries.find((entry) => entry.id === id) ?? null;
}

/** Changes an entry; the time at which it was first told is when it was measured. */
export function fillEntry({ store, around }: Session, id: number, change: Partial<Entry>): void {
  const { form } = store.get();
  const before = entryOf(form, id);
  if (form === null || before === null) return;
  const after = { ...before, ...change };
  const takenAt = isFilled(after) ? (before.takenAt ?? around.timeNow()) : null;
  store.change({ form: changeEntry(form, id, { ...change, takenAt }) });
}

/** A number as it is typed. What is typed anew was not measured again. */
export function typeNumber(session: Session, id: number, name: FieldName, text: string): void {
  const entry = entryOf(session.store.get().form, id);
  if (entry === null) return;
  const numbers = { ...entry.numbers, [name]: text };
  fillEntry(session, id, { numbers, absent: null, confirmed: false });
}

export function choose(session: Session, id: number, choices: Partial<Choices>): void {
  const { store } = session;
  fillEntry(session, id, withSiteOf(entryOf(store.get().form, id), choices));
  const entry = entryOf(store.get().form, id);
  if (entry !== null) store.change({ habits: noteChoices(store.get().habits, entry) });
}

/** A site that the newly chosen way does not have is not kept. */
function withSiteOf(entry: Entry | null, choices: Partial<Choices>): Partial<Choices> {
  if (entry === null || choices.method === undefined || choices.site !== undefined) return choices;
  const way = stepOf(entry.step).ways.find(({ method }) => method === choices.method);
  const keeps = way?.sites.some((site) => site === entry.site) ?? false;
  return keeps ? choices : { ...choices, site: null };
}

/** Opens a step: what was entered of it, or a new entry. */
export function openStep({ store }: Session, step: StepId): void {
  const { form } = store.get();
  if (form === null) return;
  const opened = openStepOf(form, step);
  store.change({ form: opened.form, view: { name: 'step', entry: opened.entry.id } });
}

/** Measured again, beside the first, which stays as it was. */
export function repeatStep({ store }: Session, step: StepId): void {
  const { form } = store.get();
  if (form === null) return;
  const added = addEntry(form, step);
  store.change({ form: added.form, view: { name: 'step', entry: added.entry.id } });
}

/** Told as not measured, with the reason; what was typed before is not sent. */
export function skipEntry(session: Session, id: number, absent: AbsentReason): void {
  fillEntry(session, id, {
    absent,
    counted: null,
    numbers: {},
    code: null,
    regular: null,
    confirmed: false,
  });
}

/** Takes the entry out; a repeat that was opened by mistake leaves no trace. */
export function clearEntry({ store }: Session, id: number): void {
  const { form } = store.get();
  if (form !== null) store.change({ form: dropEntry(form, id), view: { name: 'signs' } });
}

export function setPosition({ store }: Session, position: Position | null): void {
  const { form } = store.get();
  if (form !== null) store.change({ form: { ...form, position } });
}

export function remind({ store }: Session, reminder: Reminder): void {
  const { form } = store.get();
  if (form !== null) store.change({ form: toggleReminder(form, reminder) });
}
