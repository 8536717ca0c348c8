/** The form as it is kept, encrypted, on this device, so that a reload loses nothing. */
import { interruptCount, type Count } from '../form/count.js';
import type { Habits } from '../form/offer-choices.js';
import type { SetForm } from '../form/set-form.js';
import type { PageState, View } from './page-state.js';
import type { Session } from './surroundings.js';

const SAVE_AFTER_MS = 250;
/** Raised when the form takes another shape: an older draft is then not read. */
const DRAFT_FORM = 1;

interface Draft {
  readonly draftForm: typeof DRAFT_FORM;
  readonly form: SetForm;
  readonly habits: Habits;
  readonly counting: { readonly entry: number; readonly count: Count } | null;
  readonly view: View;
}

function isDraft(kept: unknown): kept is Draft {
  return typeof kept === 'object' && kept !== null && 'draftForm' in kept
    ? kept.draftForm === DRAFT_FORM
    : false;
}

/** What is kept of this state; null: nothing is being entered. */
function draftOf({ form, habits, counting, view }: PageState): Draft | null {
  return form === null ? null : { draftForm: DRAFT_FORM, form, habits, counting, view };
}

/** Saves after every change. The answer saves at once what is still to be saved. */
export function keepDraft({ store, around }: Session): () => void {
  let saved: SetForm | null = null;
  let savedCount: PageState['counting'] = null;
  let callOff: (() => void) | null = null;
  const save = (): void => {
    callOff = null;
    const state = store.get();
    const draft = draftOf(state);
    if (draft === null) return;
    saved = state.form;
    savedCount = state.counting;
    void around.door.draft.save(draft).then((kept) => {
      const { notice } = store.get();
      if (!kept && notice === null) store.change({ notice: 'draft-not-kept' });
      if (kept && notice === 'draft-not-kept') store.change({ notice: null });
    });
  };
  store.listen(() => {
    const { form, counting } = store.get();
    if (form === saved && counting === savedCount) return;
    callOff?.();
    callOff = around.later(save, SAVE_AFTER_MS);
  });
  return () => {
    if (callOff === null) return;
    callOff();
    save();
  };
}

/** Goes on where this person was; a count that was running is told as broken off. */
export async function resumeDraft({ store, around }: Session): Promise<boolean> {
  const kept = await around.door.draft.load();
  if (!isDraft(kept)) return false;
  const counting =
    kept.counting === null
      ? null
      : { ...kept.counting, count: interruptCount(kept.counting.count, 'reloaded') };
  const broken = counting !== null && counting.count.state === 'interrupted';
  store.change({
    form: kept.form,
    habits: kept.habits,
    counting,
    view: broken || kept.view.name === 'count' ? viewOfCount(counting) : kept.view,
    notice: 'draft-found',
  });
  return true;
}

function viewOfCount(counting: PageState['counting']): View {
  return counting === null ? { name: 'signs' } : { name: 'count', entry: counting.entry };
}
