/** The session behind the page, with a door of memory: what is sent, kept and forgotten, and when. */
import type {
  CheckedAnswer,
  Door,
  SendOutcome,
  SetAnswer,
  SetJson,
} from '../../../src/browser/bedside/door.js';
import {
  beginSet,
  leavePatient,
  lookUp,
} from '../../../src/browser/bedside/session/choose-patient.js';
import { fillEntry, openStep } from '../../../src/browser/bedside/session/fill-form.js';
import {
  enter,
  openSession,
  type OpenSession,
} from '../../../src/browser/bedside/session/open-session.js';
import { openCount, tap } from '../../../src/browser/bedside/session/run-count.js';
import { putRight, sendSet } from '../../../src/browser/bedside/session/send-set.js';

const PATIENT = {
  claimed: {
    identifier: { system: 'urn:example:mrn', value: 'LF-20417' },
    birthDate: '1958-11-02',
  },
  found: null,
  unregistered: null,
} as const;
const PERSON = {
  identifier: { system: 'urn:example:staff', value: 'N-311' },
  name: 'Ines Okafor',
  saidBy: 'gateway',
  wasIdle: false,
} as const;

function answerTo(set: SetJson): SetAnswer {
  return {
    setId: set.setId,
    verdict: 'accepted',
    readings: set.readings.map(({ vital }, index) => ({ index, vital, verdict: 'accepted' })),
    findings: [],
    edition: '1',
  };
}

/** Everything that goes through the door, with answers that a test holds back or gives. */
function openPage(over: Partial<Door> = {}): {
  session: OpenSession;
  sent: SetJson[];
  checks: { set: SetJson; answer: (told: CheckedAnswer) => void }[];
  kept: { draft: unknown };
  idle: () => void;
  pass: (ms: number) => Promise<void>;
} {
  const sent: SetJson[] = [];
  const checks: { set: SetJson; answer: (told: CheckedAnswer) => void }[] = [];
  const kept: { draft: unknown } = { draft: null };
  let idle = (): void => undefined;
  let id = 0;
  let nowMs = 0;
  const due: { at: number; act: () => void }[] = [];
  const stop = (): void => undefined;
  const door: Door = {
    signedIn: () => Promise.resolve(PERSON),
    confirmPerson: stop,
    signInAddress: '/signin',
    signOut: () => Promise.resolve(),
    site: () => Promise.resolve({ zone: 'UTC', units: {}, identifierSystems: [], idleMinutes: 3 }),
    findPatient: () => Promise.resolve('unknown'),
    check: (set) => new Promise((answer) => checks.push({ set, answer })),
    send: (set) => {
      sent.push(set);
      return Promise.resolve({ state: 'answered', status: 201, answer: answerTo(set) });
    },
    decide: () => Promise.resolve({ state: 'not-sent', why: 'no-network' }),
    practice: () => Promise.resolve({ state: 'not-sent', why: 'no-network' }),
    draft: {
      load: () => Promise.resolve(kept.draft),
      save: (draft) => {
        kept.draft = structuredClone(draft);
        return Promise.resolve(true);
      },
      clear: () => {
        kept.draft = null;
        return Promise.resolve();
      },
    },
    outbox: {
      mine: () => Promise.resolve([]),
      sendNow: () => Promise.resolve(),
      takeOut: () => Promise.resolve(null),
    },
    clock: () => ({ aheadMs: null, steppedMs: 0 }),
    onWaiting: () => stop,
    onDelivered: () => stop,
    forgetOnIdle: (listener) => {
      idle = listener;
      return stop;
    },
    onNewPage: () => stop,
    ...over,
  };
  const session = openSession({
    door,
    timeNow: () => '2026-03-01T08:15:00+01:00',
    monotonicMs: () => nowMs,
    newId: () => {
      id += 1;
      return `6f1f3b52-9a44-4c2f-8d5a-${String(id).padStart(12, '0')}`;
    },
    leave: stop,
    later(act, afterMs) {
      const task = { at: nowMs + afterMs, act };
      due.push(task);
      return () => due.splice(due.indexOf(task), due.includes(task) ? 1 : 0);
    },
  });
  const pass = async (ms: number): Promise<void> => {
    nowMs += ms;
    for (const task of due.filter(({ at }) => at <= nowMs)) {
      due.splice(due.indexOf(task), 1);
      task.act();
    }
    // Lets what the tasks began come to rest.
    await new Promise((resolve) => setImmediate(resolve));
  };
  return {
    session,
    sent,
    checks,
    kept,
    idle: () => {
      idle();
    },
    pass,
  };
}

function enterTemperature(session: OpenSession, temperature: string): void {
  openStep(session, 'temperature');
  const { view } = session.store.get();
  if (view.name === 'step') fillEntry(session, view.entry, { numbers: { temperature } });
}

describe('sending', () => {
  it('happens once, however often the button is tapped', async () => {
    const { session, sent } = openPage();
    beginSet(session, PATIENT);
    enterTemperature(session, '36.9');
    await Promise.all([sendSet(session), sendSet(session), sendSet(session)]);
    await sendSet(session);
    expect(sent).toHaveLength(1);
    expect(session.store.get()).toMatchObject({ form: null, view: { name: 'sent' } });
  });

  it('leaves everything in the form when the set could not be kept, under the same id', async () => {
    let outcome: SendOutcome = { state: 'not-kept', why: 'storage-full' };
    const ids: string[] = [];
    const { session } = openPage({
      send: (set) => {
        ids.push(set.setId);
        return Promise.resolve(outcome);
      },
    });
    beginSet(session, PATIENT);
    enterTemperature(session, '36.9');
    await sendSet(session);
    expect(session.store.get()).toMatchObject({ notice: 'not-kept-full', sending: false });
    expect(session.store.get().form).not.toBeNull();
    outcome = { state: 'waiting', why: 'no-network' };
    await sendSet(session);
    expect(session.store.get().form).toBeNull();
    expect(new Set(ids).size).toBe(1);
  });

  it('says that nothing is kept when the door itself breaks', async () => {
    const { session } = openPage({ send: () => Promise.reject(new Error('gone')) });
    beginSet(session, PATIENT);
    enterTemperature(session, '36.9');
    await sendSet(session);
    expect(session.store.get()).toMatchObject({ notice: 'not-kept-denied', sending: false });
  });

  it('brings a refused set back into the form under an id of its own', async () => {
    const problem = { status: 409, detail: 'Another set was sent under this id.' };
    const { session } = openPage({
      send: () => Promise.resolve({ state: 'refused', status: 409, problem }),
    });
    beginSet(session, PATIENT);
    enterTemperature(session, '36.9');
    const before = session.store.get().form;
    await sendSet(session);
    await putRight(session, before?.setId ?? '');
    const after = session.store.get().form;
    expect(after?.entries).toEqual(before?.entries);
    expect(after?.setId).not.toBe(before?.setId);
  });
});

describe('checking', () => {
  it('asks once the typing rests, and shows the newest answer only', async () => {
    const { session, checks, pass } = openPage();
    beginSet(session, PATIENT);
    enterTemperature(session, '36');
    await pass(300);
    enterTemperature(session, '36.9');
    await pass(1000);
    expect(checks).toHaveLength(1);
    enterTemperature(session, '39.9');
    await pass(1000);
    const [first, second] = checks;
    if (first === undefined || second === undefined) throw new Error('two were asked');
    const held = { ...answerTo(second.set), verdict: 'held' } as const;
    second.answer({ by: 'gateway', answer: held });
    first.answer({ by: 'this-device', answer: answerTo(first.set) });
    await pass(0);
    expect(session.store.get().check).toMatchObject({ state: 'told', by: 'gateway' });
  });

  it('says nothing of a value that was changed since, and keeps what it said of the others', async () => {
    const { session, checks, pass } = openPage();
    beginSet(session, PATIENT);
    enterTemperature(session, '36.9');
    openStep(session, 'weight');
    fillEntry(session, 2, { numbers: { weight: '78.5' } });
    await pass(1000);
    const [first] = checks;
    if (first === undefined) throw new Error('nothing was asked');
    first.answer({ by: 'gateway', answer: answerTo(first.set) });
    await pass(0);
    fillEntry(session, 2, { numbers: { weight: '785' } });
    const checked = session.store.get().check?.checked;
    expect(checked && 'answers' in checked ? [...checked.answers.keys()] : null).toEqual([1]);
  });

  it('does not ask about a pressure of which one half is typed, until it is left', async () => {
    const { session, checks, pass } = openPage();
    beginSet(session, PATIENT);
    openStep(session, 'pressure-by-cuff');
    const { view } = session.store.get();
    if (view.name === 'step') fillEntry(session, view.entry, { numbers: { systolic: '132' } });
    await pass(1000);
    expect(checks).toHaveLength(0);
    session.store.change({ view: { name: 'signs' } });
    await pass(1000);
    expect(checks[0]?.set.readings).toHaveLength(1);
  });
});

it('asks the gateway once more before sending, where only this device has spoken', async () => {
  const { session, checks, pass } = openPage();
  beginSet(session, PATIENT);
  enterTemperature(session, '36.9');
  await pass(1000);
  const [first] = checks;
  if (first === undefined) throw new Error('nothing was asked');
  first.answer({ by: 'this-device', answer: answerTo(first.set) });
  await pass(0);
  session.store.change({ view: { name: 'review' } });
  await pass(1000);
  expect(checks).toHaveLength(2);
  checks[1]?.answer({ by: 'this-device', answer: answerTo(first.set) });
  await pass(1000);
  expect(checks).toHaveLength(2);
  expect(session.store.get().check).toMatchObject({ state: 'told', by: 'this-device' });
});

describe('what is kept', () => {
  it('is the form, after every change, and it comes back after a reload', async () => {
    const first = openPage();
    beginSet(first.session, PATIENT);
    enterTemperature(first.session, '36.9');
    await first.pass(300);
    const second = openPage({
      draft: { ...NO_DRAFT, load: () => Promise.resolve(first.kept.draft) },
    });
    await enter(second.session);
    expect(second.session.store.get().form).toEqual(first.session.store.get().form);
    expect(second.session.store.get().notice).toBe('draft-found');
  });

  it('tells a count that was running as broken off', async () => {
    const first = openPage();
    beginSet(first.session, PATIENT);
    openStep(first.session, 'breaths');
    openCount(first.session, 1);
    tap(first.session, 0);
    tap(first.session, 3_000);
    first.session.saveNow();
    const second = openPage({
      draft: { ...NO_DRAFT, load: () => Promise.resolve(first.kept.draft) },
    });
    await enter(second.session);
    expect(second.session.store.get()).toMatchObject({
      view: { name: 'count', entry: 1 },
      counting: { count: { state: 'interrupted', why: 'reloaded', tapped: 1 } },
    });
  });

  it('is not read when it has another shape', async () => {
    const load = (): Promise<unknown> => Promise.resolve({ draftForm: 0, form: {} });
    const { session } = openPage({ draft: { ...NO_DRAFT, load } });
    await enter(session);
    expect(session.store.get()).toMatchObject({ form: null, view: { name: 'who' } });
  });

  it('goes with the patient who is left, also when a save was still due', async () => {
    const { session, kept, pass } = openPage();
    beginSet(session, PATIENT);
    enterTemperature(session, '36.9');
    await pass(300);
    enterTemperature(session, '37.9');
    await leavePatient(session);
    await pass(1000);
    expect(kept.draft).toBeNull();
    expect(session.store.get()).toMatchObject({ form: null, view: { name: 'who' } });
  });

  it('is told as not kept when the device keeps nothing', async () => {
    const save = (): Promise<boolean> => Promise.resolve(false);
    const { session, pass } = openPage({ draft: { ...NO_DRAFT, save } });
    beginSet(session, PATIENT);
    await pass(300);
    expect(session.store.get().notice).toBe('draft-not-kept');
  });
});

it('shows no patient after the idle time, and keeps what was being entered', async () => {
  const { session, kept, idle } = openPage();
  await enter(session);
  beginSet(session, PATIENT);
  enterTemperature(session, '36.9');
  idle();
  const state = session.store.get();
  expect(state).toMatchObject({ form: null, sent: [], person: null, view: { name: 'locked' } });
  expect(JSON.stringify(state)).not.toContain('LF-20417');
  expect(JSON.stringify(kept.draft)).toContain('36.9');
});

it('asks by hand whether it is still the same person when nobody can be asked', async () => {
  const person = { ...PERSON, saidBy: 'this-device', wasIdle: true } as const;
  const { session } = openPage({ signedIn: () => Promise.resolve(person) });
  await enter(session);
  expect(session.store.get().view).toEqual({ name: 'still-you' });
});

it('looks a patient up once, however often it is asked meanwhile', async () => {
  let asked = 0;
  const { session } = openPage({
    findPatient: () => {
      asked += 1;
      return Promise.resolve('unknown');
    },
  });
  await Promise.all([lookUp(session, ' LF-1 ', null), lookUp(session, 'LF-1', null)]);
  expect(asked).toBe(1);
  expect(session.store.get().lookUp).toEqual({
    state: 'not-found',
    why: 'unknown',
    value: 'LF-1',
    system: null,
  });
});

const NO_DRAFT: Door['draft'] = {
  load: () => Promise.resolve(null),
  save: () => Promise.resolve(true),
  clear: () => Promise.resolve(),
};
