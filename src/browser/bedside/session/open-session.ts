/** From the opening of the page to the first view, and what the door tells while it is open. */
import { checkOnChange } from './check-set.js';
import { keepDraft, resumeDraft } from './keep-draft.js';
import { FIRST_STATE, type PageState } from './page-state.js';
import { noteDelivery } from './send-set.js';
import { openStore } from './store.js';
import type { Session, Surroundings } from './surroundings.js';

export interface OpenSession extends Session {
  /** Saves at once what is still to be saved: the page goes out of sight. */
  saveNow(): void;
}

export function openSession(around: Surroundings): OpenSession {
  const store = openStore<PageState>(FIRST_STATE);
  const session = { store, around };
  const saveNow = keepDraft(session);
  checkOnChange(session);
  around.door.onWaiting((waiting) => {
    store.change({ waiting });
  });
  around.door.onDelivered((setId, outcome) => {
    noteDelivery(session, setId, outcome);
  });
  around.door.onNewPage((takeNewPage) => {
    store.change({ takeNewPage });
  });
  around.door.forgetOnIdle(() => {
    saveNow();
    forget(session);
  });
  return { ...session, saveNow };
}

/** Takes the patient, and all that was sent, off the screen. What was being entered is kept encrypted. */
function forget({ store }: Session): void {
  const { waiting, takeNewPage, site } = store.get();
  store.change({ ...FIRST_STATE, site, waiting, takeNewPage, view: { name: 'locked' } });
}

/** Another tab has taken over: what is being entered goes on there. */
export function leaveForElsewhere(session: OpenSession): void {
  session.saveNow();
  forget(session);
  session.store.change({ view: { name: 'elsewhere' } });
}

/** Asks who is here and goes on where that person was. */
export async function enter(session: Session): Promise<void> {
  const { store, around } = session;
  store.change({ view: { name: 'opening' } });
  const person = await around.door.signedIn();
  if (person === null) {
    signInAgain(session);
    return;
  }
  store.change({ person });
  if (person.saidBy === 'this-device' && person.wasIdle) {
    store.change({ view: { name: 'still-you' } });
    return;
  }
  await goOn(session);
}

/** Said by hand: it is still the same person. */
export async function confirmPerson(session: Session): Promise<void> {
  session.around.door.confirmPerson();
  await goOn(session);
}

async function goOn(session: Session): Promise<void> {
  const site = await session.around.door.site();
  session.store.change({ site });
  if (await resumeDraft(session)) return;
  session.store.change({ view: { name: 'who' } });
}

export function signInAgain({ around }: Session): void {
  around.leave(around.door.signInAddress);
}

export async function signOut({ store, around }: Session): Promise<void> {
  store.change({ ...FIRST_STATE, waiting: store.get().waiting, view: { name: 'locked' } });
  await around.door.signOut();
  around.leave(around.door.signInAddress);
}
