/** Who it is: looked up, confirmed by hand, changed only with everything of the one before taken away. */
import type { Identifier } from '../../../vitals/incoming.js';
import type { FoundPatient } from '../door.js';
import { emptyForm } from '../form/change-form.js';
import type { ChosenPatient } from '../form/set-form.js';
import type { Session } from './surroundings.js';

export async function lookUp(
  { store, around }: Session,
  typed: string,
  system: string | null,
): Promise<void> {
  const value = typed.trim();
  if (value === '' || store.get().lookUp.state === 'asking') return;
  store.change({ lookUp: { state: 'asking' } });
  const found = await around.door.findPatient({ value, ...(system !== null && { system }) });
  store.change({
    lookUp:
      typeof found === 'string'
        ? { state: 'not-found', why: found, value, system }
        : { state: 'found', patient: found },
  });
}

export function forgetLookUp({ store }: Session): void {
  store.change({ lookUp: { state: 'idle' } });
}

/** Whole dates only are compared by the gateway; else the family name is the second identifier. */
export function chosenFrom(found: FoundPatient): ChosenPatient | null {
  const { identifier, birthDate, familyName } = found;
  const second =
    birthDate?.length === 10 ? { birthDate } : familyName === null ? null : { familyName };
  if (second === null) return null;
  return { claimed: { identifier, ...second }, found, unregistered: null };
}

/** Whom the register does not know, or could not be asked about: by what the person typed. */
export function chosenByHand(
  identifier: Identifier,
  second: { readonly birthDate: string } | { readonly familyName: string },
  unregistered: 'unknown' | 'not-asked',
): ChosenPatient {
  return { claimed: { identifier, ...second }, found: null, unregistered };
}

export function beginSet({ store, around }: Session, patient: ChosenPatient): void {
  store.change({
    form: emptyForm(around.newId(), patient),
    check: null,
    counting: null,
    lookUp: { state: 'idle' },
    notice: null,
    view: { name: 'signs' },
  });
}

/** Takes the patient, and everything entered for this one, away. */
export async function leavePatient({ store, around }: Session): Promise<void> {
  store.change({
    form: null,
    check: null,
    counting: null,
    lookUp: { state: 'idle' },
    view: { name: 'who' },
  });
  await around.door.draft.clear();
}
