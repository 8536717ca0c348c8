/** Sends the set, once, and goes where its answer is shown. */
import { buildSet } from '../form/build-set.js';
import { reopenSet } from '../form/reopen-set.js';
import type { SendOutcome } from '../door.js';
import type { SentSet } from './page-state.js';
import type { Session } from './surroundings.js';

/** A second tap while the first is at work does nothing; the set id keeps all others from doubling it. */
export async function sendSet({ store, around }: Session): Promise<void> {
  const { form, site, sending } = store.get();
  if (sending || form === null) return;
  const built = buildSet(form, site.units);
  if (built === null) return;
  store.change({ sending: true, notice: null });
  const outcome = await sendOrFail(() => around.door.send(built.set));
  if (outcome.state === 'not-kept') {
    const notice = outcome.why === 'storage-full' ? 'not-kept-full' : 'not-kept-denied';
    store.change({ sending: false, notice });
    return;
  }
  await around.door.draft.clear();
  const sent: SentSet = { setId: form.setId, form, ...built, outcome };
  store.change({
    sending: false,
    form: null,
    check: null,
    counting: null,
    sent: [sent, ...store.get().sent.filter(({ setId }) => setId !== form.setId)],
    view: { name: 'sent', setId: form.setId },
  });
}

async function sendOrFail(send: () => Promise<SendOutcome>): Promise<SendOutcome> {
  try {
    return await send();
  } catch {
    // Whatever went wrong, nothing says that it is kept.
    return { state: 'not-kept', why: 'storage-denied' };
  }
}

/** What became of a set that had waited. */
export function noteDelivery({ store }: Session, setId: string, outcome: SendOutcome): void {
  const { sent, notice } = store.get();
  const isShown = sent.some((one) => one.setId === setId);
  store.change({
    sent: sent.map((one) => (one.setId === setId ? { ...one, outcome } : one)),
    notice: isShown ? notice : 'delivered-later',
  });
}

/** Takes a set that the gateway refused back into the form, to be sent under an id of its own. */
export async function putRight({ store, around }: Session, setId: string): Promise<void> {
  const before = store.get().sent.find((one) => one.setId === setId);
  const set = await around.door.outbox.takeOut(setId);
  const newId = around.newId();
  const form =
    before === undefined ? set && reopenSet(set, newId) : { ...before.form, setId: newId };
  if (form === null) return;
  store.change({
    form,
    sent: store.get().sent.filter((one) => one.setId !== setId),
    view: { name: 'review' },
  });
}
