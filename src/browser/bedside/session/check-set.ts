/** Asks what the gateway would say, as values are entered. */
import { buildSet, type BuiltSet } from '../form/build-set.js';
import { isComplete } from '../form/change-form.js';
import { readChecked } from '../form/read-answer.js';
import type { PageState } from './page-state.js';
import type { Session } from './surroundings.js';

/** While somebody types the answer to half a number would be noise. */
const TYPING_MS = 800;

/** The entry in hand that is not whole yet: left out until it is, or until it is left. */
function entryInHand({ view, form }: PageState): number | null {
  if (view.name !== 'step' && view.name !== 'count') return null;
  const entry = form?.entries.find(({ id }) => id === view.entry);
  return entry === undefined || isComplete(entry) ? null : entry.id;
}

/** Looks after every change whether there is something new to ask. Only the newest answer counts. */
export function checkOnChange({ store, around }: Session): void {
  let asked = '';
  let callOff: (() => void) | null = null;
  let turn = 0;
  let lookedOver = false;

  const ask = async (built: BuiltSet, myTurn: number): Promise<void> => {
    const found = store.get().form?.patient.found ?? null;
    const told = await around.door.check(built.set, found);
    if (myTurn !== turn) return;
    const checked = readChecked(told, built.entryIds);
    store.change({ check: { state: 'told', by: told.by, checked } });
  };

  const look = (): void => {
    const state = store.get();
    const built =
      state.form === null ? null : buildSet(state.form, state.site.units, entryInHand(state));
    const question = built === null ? '' : JSON.stringify(built);
    // Before it is sent the gateway is asked once more, where only this device has spoken so far.
    const looksOver = state.view.name === 'review';
    if (looksOver && !lookedOver && state.check?.by === 'this-device') asked = '';
    lookedOver = looksOver;
    if (question === asked) return;
    asked = question;
    turn += 1;
    callOff?.();
    callOff = null;
    if (built === null) {
      if (state.check !== null) store.change({ check: null });
      return;
    }
    const myTurn = turn;
    // What was said of the others stays in sight until the new answer is there.
    store.change({ check: { by: null, checked: null, ...state.check, state: 'asking' } });
    callOff = around.later(() => void ask(built, myTurn), TYPING_MS);
  };

  store.listen(look);
}
