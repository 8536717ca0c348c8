/** Opens the page's way to the gateway: the parts of {@link Door}, put together. */
import type { CheckedAnswer, Door, FoundPatient, SetJson, SignedInPerson } from './door.js';
import * as asking from './gateway/ask-about.js';
import { createAskGateway } from './gateway/ask-gateway.js';
import { ClockWatch } from './gateway/clock-watch.js';
import { IdleWatch } from './gateway/idle-watch.js';
import { Patience } from './gateway/patience.js';
import { Session } from './gateway/session.js';
import type { RememberedPerson } from './gateway/session.js';
import { keptSite, readSite } from './gateway/site.js';
import type { Site } from './gateway/site.js';
import { Listeners } from './listeners.js';
import { localTime } from './local-time.js';
import { watchForNewPage } from './new-page.js';
import { Outbox } from './outbox/outbox.js';
import { WaitingSets } from './outbox/waiting-sets.js';
import { withRemark } from './outbox/with-remark.js';
import { DeviceDatabase } from './vault/device-database.js';
import { Drafts } from './vault/drafts.js';
import { KeptValues } from './vault/kept-values.js';
import { Seal } from './vault/seal.js';

const SIGN_IN_ADDRESS = '/signin?next=%2Fbedside';
const MINUTE_MS = 60_000;
/** Longer nobody waits at the bed; then the device answers at once for a while. */
const CHECK_PATIENCE = { waitMs: 4_000, restMs: 10_000 };

/** Everything behind the door, and what it remembers while the page is open. */
class OpenDoor {
  readonly clock = new ClockWatch({ wallMs: Date.now, steadyMs: () => performance.now() });
  readonly idle = new IdleWatch();
  readonly counts = new Listeners<[number]>();
  readonly delivered = new Listeners<Parameters<Parameters<Door['onDelivered']>[0]>>();
  readonly session: Session;
  readonly outbox: Outbox;
  readonly drafts: Drafts;
  readonly kept: KeptValues;
  readonly #gatewayCheck = new Patience(CHECK_PATIENCE);
  #site: Promise<Site> | null = null;
  /** The first look at the page waits for nothing that is kept; who is shown what does. */
  #idleKnown: Promise<void> = Promise.resolve();
  /** Since the page was idle the gateway has not said who is here: nothing of a patient is shown. */
  #locked = false;

  constructor() {
    const database = new DeviceDatabase();
    const seal = new Seal(database);
    const ask = createAskGateway((gatewayMs, tookMs) => {
      this.clock.compare(gatewayMs, tookMs);
    });
    this.kept = new KeptValues(database, seal);
    this.drafts = new Drafts(database, seal);
    this.session = new Session(ask, this.kept);
    this.outbox = new Outbox(new WaitingSets(database, seal), this.session, {
      onCount: (count) => {
        this.counts.tell(count);
      },
      onDelivered: (setId, outcome) => {
        this.delivered.tell(setId, outcome);
      },
    });
  }

  start(): void {
    this.clock.start();
    addEventListener('online', () => {
      this.#gatewayCheck.renew();
    });
    this.idle.listen(() => {
      this.#locked = true;
    });
    this.idle.start();
    this.#idleKnown = keptSite(this.kept).then(({ idleMinutes }) => {
      this.idle.setLimit(idleMinutes * MINUTE_MS);
    });
    this.outbox.start();
    void DeviceDatabase.askToPersist();
  }

  async signedIn(): Promise<SignedInPerson | null> {
    const who = await this.session.who();
    await this.#idleKnown;
    if (who.kind === 'nobody') return null;
    if (who.saidBy === 'gateway') {
      if (who.justSignedIn) this.idle.end();
      this.#locked = false;
      void this.#afterSignIn();
    }
    const { identifier, name } = who.person;
    return { identifier, name, saidBy: who.saidBy, wasIdle: this.idle.isIdle };
  }

  async #afterSignIn(): Promise<void> {
    await this.session.renewVoucher();
    const { person } = this.session;
    if (person !== null) await this.outbox.renewVouchers(person).catch(() => undefined);
    this.#site = readSite(this.session, this.kept);
    this.idle.setLimit((await this.#site).idleMinutes * MINUTE_MS);
    await this.outbox.sendNow();
  }

  site(): Promise<Site> {
    this.#site ??= readSite(this.session, this.kept);
    return this.#site;
  }

  /** Whose drafts and sets may be shown; null: nobody's, just now. */
  get owner(): RememberedPerson | null {
    return this.#locked || this.idle.isIdle ? null : this.session.person;
  }

  async check(set: SetJson, patient: FoundPatient | null): Promise<CheckedAnswer> {
    const told = await this.#gatewayCheck.ask(() => asking.checkAtGateway(this.session, set));
    if (told !== null) return { by: 'gateway', ...told };
    try {
      const { checkHere } = await import('./check-here/check-here.js');
      const judgedBy = await keptSite(this.kept);
      const nowMs = this.clock.gatewayNowMs();
      return { by: 'this-device', ...checkHere(set, patient, judgedBy, nowMs) };
    } catch {
      const message = 'This could be checked neither by the gateway nor by this device.';
      return { by: 'this-device', faults: [{ pointer: '', message }] };
    }
  }

  async signOut(): Promise<void> {
    this.outbox.forgetAnswers();
    await this.session.signOut();
    this.#site = null;
  }
}

function draftOf(open: OpenDoor): Door['draft'] {
  return {
    async load() {
      return open.owner === null ? null : open.drafts.load(open.owner.identifier);
    },
    async save(draft) {
      const { person } = open.session;
      return person !== null && (await open.drafts.save(person.identifier, draft));
    },
    async clear() {
      const { person } = open.session;
      if (person !== null) await open.drafts.clear(person.identifier);
    },
  };
}

function outboxOf(open: OpenDoor): Door['outbox'] {
  return {
    mine: async () => (open.owner === null ? [] : open.outbox.mine(open.owner)),
    sendNow: () => open.outbox.sendNow(),
    takeOut: async (setId) => (open.owner === null ? null : open.outbox.takeOut(setId, open.owner)),
  };
}

/** One door a page. It begins at once to send what waits from before. */
export function openDoor(): Door {
  const open = new OpenDoor();
  open.start();
  const { session } = open;
  return {
    signInAddress: SIGN_IN_ADDRESS,
    signedIn: () => open.signedIn(),
    confirmPerson: () => {
      open.idle.end();
    },
    signOut: () => open.signOut(),
    site: () => open.site(),
    findPatient: (identifier) => asking.findPatient(session, identifier),
    check: (set, patient) => open.check(set, patient),
    send: (set) => open.outbox.send(withRemark(set, open.clock.remark()), localTime(new Date())),
    decide: (setId, index, decision) => asking.decide(session, setId, index, decision),
    practice: (reading, setValue) => asking.practice(session, reading, setValue),
    draft: draftOf(open),
    outbox: outboxOf(open),
    clock: () => open.clock.state(),
    onWaiting(listener) {
      const stop = open.counts.add(listener);
      void open.outbox.tellCount();
      return stop;
    },
    onDelivered: (listener) => open.delivered.add(listener),
    forgetOnIdle: (listener) => open.idle.listen(listener),
    onNewPage: watchForNewPage(),
  };
}
