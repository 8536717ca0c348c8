/** The count that is under way. */
import {
  interruptCount,
  passTime,
  readyCount,
  setSeconds,
  startAgain,
  tapCount,
  typeInstead,
  undoTap,
  type Count,
  type CountSeconds,
} from '../form/count.js';
import { entryOf, fillEntry } from './fill-form.js';
import type { Session } from './surroundings.js';

/** Common practice: half a minute. */
const USUAL_SECONDS = 30;

export function openCount({ store }: Session, entryId: number, seconds?: CountSeconds): void {
  const { counting, form } = store.get();
  const kept = counting?.entry === entryId && seconds === undefined ? counting.count : null;
  const last = entryOf(form, entryId)?.counted?.seconds ?? USUAL_SECONDS;
  const count = kept ?? readyCount(seconds ?? last);
  store.change({ counting: { entry: entryId, count }, view: { name: 'count', entry: entryId } });
}

function changeCount({ store }: Session, change: (count: Count) => Count): void {
  const { counting } = store.get();
  if (counting === null) return;
  const count = change(counting.count);
  if (count !== counting.count) store.change({ counting: { ...counting, count } });
}

/** @param atMs when the finger came down, by the clock that only goes on */
export function tap(session: Session, atMs: number): void {
  changeCount(session, (count) => tapCount(count, atMs));
}

export function undo(session: Session): void {
  changeCount(session, undoTap);
}

export function again(session: Session): void {
  changeCount(session, startAgain);
}

/** Counted by another clock: the number is typed. */
export function typeCount(session: Session): void {
  changeCount(session, typeInstead);
}

export function countFor(session: Session, seconds: CountSeconds): void {
  changeCount(session, (count) => setSeconds(count, seconds, session.around.monotonicMs()));
}

/** To be called often while a count runs. */
export function letTimePass(session: Session): void {
  changeCount(session, (count) => passTime(count, session.around.monotonicMs()));
}

/** Out of sight neither taps nor the signal at the end can be relied upon. */
export function breakOff(session: Session): void {
  changeCount(session, (count) => interruptCount(count, 'out-of-sight'));
}

/** Takes the count over into its entry. */
export function takeCount(session: Session, counted: number): void {
  const { counting } = session.store.get();
  if (counting === null) return;
  const { seconds } = counting.count;
  fillEntry(session, counting.entry, {
    counted: { count: counted, seconds },
    absent: null,
    confirmed: false,
  });
  session.store.change({ counting: null, view: { name: 'step', entry: counting.entry } });
}

export function leaveCount({ store }: Session): void {
  const { counting } = store.get();
  if (counting === null) return;
  store.change({ counting: null, view: { name: 'step', entry: counting.entry } });
}
