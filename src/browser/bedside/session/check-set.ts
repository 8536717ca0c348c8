/** Asks what the gateway would say, as values are entered. */
import { buildSet, type BuiltSet } from '../form/build-set.js';
import { isComplete } from '../form/change-form.js';
import { readChecked, type Checked } from '../form/read-answer.js';
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

/** What was said of entries that are as they were; of a value that changed nothing is known yet. */
function stillTold(
  checked: Checked | null,
  toldOf: BuiltSet | null,
  now: BuiltSet,
): Checked | null {
  if (checked === null || toldOf === null || !('answers' in checked)) return null;
  const answers = [...checked.answers].filter(
    ([id]) => readingsOfEntry(toldOf, id) === readingsOfEntry(now, id),
  );
  return { ...checked, answers: new Map(answers) };
}

function readingsOfEntry({ set, entryIds }: BuiltSet, id: number): string {
  return JSON.stringify(set.readings.filter((_, index) => entryIds[index] === id));
}

/** Looks after every change whether there is something new to ask. Only the newest answer counts. */
export function checkOnChange({ store, around }: Session): void {
  let asked = '';
  let callOff: (() => void) | null = null;
  let turn = 0;
  let lookedOver = false;
  let toldOf: BuiltSet | null = null;

  const ask = async (built: BuiltSet, myTurn: number): Promise<void> => {
    const found = store.get().form?.patient.found ?? null;
    const told = await around.door.check(built.set, found);
    if (myTurn !== turn) return;
    toldOf = built;
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
    const checked = stillTold(state.check?.checked ?? null, toldOf, built);
    store.change({ check: { state: 'asking', by: state.check?.by ?? null, checked } });
    callOff = around.later(() => void ask(built, myTurn), TYPING_MS);
  };

  store.listen(look);
}
