import type { Bundle, FhirResource, Observation } from 'fhir/r4.js';
import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../setup/example-sets.js';
import type { TestGateway } from '../setup/gateway.js';
import { panelOf } from '../setup/panel-faults.js';
import { bundleFaults } from '../fhir-validation/bundle-faults.js';
import { schemaFaults } from '../fhir-validation/r4-json-schema.js';
import { clearOldEvents } from '../../src/store/subscription-events.js';
import { MOST_WAITING } from '../../src/store/subscription-work.js';
import { Owner, Subscriber, asked, openNotifyingGateway, until } from './subscriber.js';
import type { Received, Wish } from './subscriber.js';

let gateway: TestGateway;
let subscriber: Subscriber;
let owner: Owner;
let patient: TestPatient;
let sender: string;
beforeAll(async () => {
  gateway = await openNotifyingGateway();
  sender = await gateway.token('sets.write');
  patient = await registerPatient(gateway, 'LF-61001');
});
afterAll(() => gateway.close());
beforeEach(async () => {
  subscriber = await Subscriber.start();
  owner = await Owner.of(gateway);
});
afterEach(() => subscriber.stop());

async function send(
  readings: readonly Record<string, unknown>[] = [oxygen(97), pressure('auscultation', 118, 76)],
  of = patient,
): Promise<SetAnswer> {
  return (await gateway.ask<SetAnswer>('/sets', { token: sender, body: setOf(of, readings) })).body;
}

async function decide(
  { setId }: SetAnswer,
  index: number,
  decision: Record<string, unknown>,
): Promise<void> {
  const { status, text } = await gateway.ask(`/sets/${setId}/readings/${index}/decisions`, {
    token: sender,
    body: { reason: 'read again', reasonCode: 'entry-error', ...decision },
  });
  if (status !== 200) throw new Error(text);
}

async function subscribe(wish: Wish = {}): Promise<string> {
  const id = await owner.subscribe(subscriber.url, wish);
  await until(async () => (await owner.read(id)).status === 'active');
  return id;
}

function delivered(): Received[] {
  return subscriber.received.filter(({ type }) => type === 'event-notification');
}

function resources(received: readonly Received[]): Observation[] {
  return received.flatMap(({ bundle }) =>
    (bundle.entry ?? [])
      .slice(1)
      .flatMap(({ resource }) => (resource as Observation | undefined) ?? []),
  );
}

/** As an opponent of doubt: a Bundle that no check of this project finds fault with. */
function expectSound(bundle: Bundle<FhirResource>): void {
  expect(bundleFaults(bundle)).toEqual([]);
  expect(schemaFaults('Parameters', bundle.entry?.[0]?.resource)).toEqual([]);
}

describe('a subscription', () => {
  it('shakes hands and then tells of what is published, in order', async () => {
    const id = await subscribe();
    expect(subscriber.received).toHaveLength(1);
    expect(subscriber.received[0]).toMatchObject({
      ...{ type: 'handshake', status: 'requested', count: 0 },
    });
    const sets = [await send(), await send(), await send()];
    await until(() => subscriber.numbers.length >= 9);
    expect(subscriber.numbers).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9]);
    // Of each set two readings, and then the panel of which they are the members.
    const published = sets.flatMap((set) => [
      ...set.readings.map(({ observation }) => observation),
      `Observation/${panelOf(set)}`,
    ]);
    const told = resources(delivered()).map((one) => `Observation/${one.id ?? ''}`);
    expect(told).toEqual(published);
    for (const { bundle } of subscriber.received) expectSound(bundle);
    expect(await owner.status(id)).toMatchObject({ status: 'active', count: 9, errors: [] });
  });

  // Guide, Payload Types: what each holds, and what it must not.
  it.each(['empty', 'id-only', 'full-resource'] as const)(
    'tells as much as %s allows',
    async (content) => {
      const id = await subscribe({ content, channel: { extension: [asked('max-count', 1)] } });
      const { readings } = await send([oxygen(95)]);
      const path = readings[0]?.observation ?? '';
      await until(() => delivered().length === 1);
      const [{ bundle, events, text } = { bundle: null, events: [], text: '' }] = delivered();
      if (bundle === null) throw new Error('nothing was told');
      expectSound(bundle);
      const [status, entry] = bundle.entry ?? [];
      expect(status?.request).toEqual({ method: 'GET', url: `Subscription/${id}/$status` });
      expect(events).toEqual([
        { number: 1, focus: content === 'empty' ? undefined : `${owner.baseUrl}/${path}` },
      ]);
      if (content === 'empty') {
        expect(entry).toBeUndefined();
        expect(text).not.toContain('Observation');
        return;
      }
      expect(entry).toMatchObject({
        fullUrl: `${owner.baseUrl}/${path}`,
        request: { method: 'POST', url: 'Observation' },
        response: { etag: 'W/"1"' },
      });
      const token = await gateway.token('system/*.rs');
      const read = await gateway.ask<Observation>(`/fhir/${path}`, { token });
      if (content === 'id-only') expect(entry?.resource).toBeUndefined();
      // Byte for byte what a reader gets.
      else expect(text).toContain(`"resource":${read.text}`);
      const { rows } = await gateway.database.pool.query<{ detail: unknown }>(
        "select detail from audit where action = 'subscription-notified' and entity = $1",
        [`Subscription/${id}`],
      );
      expect(rows).toEqual([{ detail: { content, first: 1, last: 1 } }]);
    },
  );

  it('tells of corrections and withdrawals, each topic of its own', async () => {
    const topics = ['vital-sign-new', 'vital-sign-corrected', 'vital-sign-withdrawn'] as const;
    const ids = await Promise.all(topics.map((topic) => subscribe({ topic })));
    const all = await subscribe();
    const set = await send([oxygen(95), oxygen(94)]);
    await decide(set, 0, { action: 'correct', expectedVersion: 1, reading: oxygen(96) });
    await decide(set, 0, { action: 'withdraw', expectedVersion: 2 });
    await until(async () => (await owner.status(all)).count === 6);
    const told = async (id: string): Promise<string[]> =>
      resources([await owner.events(id)]).map(
        ({ id: of, status, meta }) => `${of ?? ''} ${meta?.versionId ?? ''} ${status}`,
      );
    const [first, second] = set.readings.map(({ reading }) => reading);
    const [fresh = '', corrected = '', withdrawn = ''] = ids;
    const panel = panelOf(set);
    expect(await told(fresh)).toEqual([
      `${first} 1 final`,
      `${second} 1 final`,
      `${panel} 1 final`,
    ]);
    expect(await told(corrected)).toEqual([`${first} 2 corrected`]);
    // One member alone is no panel.
    expect(await told(withdrawn)).toEqual([
      `${first} 3 entered-in-error`,
      `${panel} 2 entered-in-error`,
    ]);
    expect(await told(all)).toEqual([
      ...(await told(fresh)),
      ...(await told(corrected)),
      ...(await told(withdrawn)),
    ]);
    // The first version says POST, the others PUT.
    const { bundle } = await owner.events(all);
    expect((bundle.entry ?? []).slice(1).map(({ request }) => request?.method)).toEqual([
      ...['POST', 'POST', 'POST', 'PUT', 'PUT', 'PUT'],
    ]);
  });

  it('keeps to its filters, all of them', async () => {
    const other = await registerPatient(gateway, 'LF-61002');
    const token = await gateway.token('system/*.rs');
    const found = await gateway.ask<Bundle>('/fhir/Patient?identifier=urn:example:mrn%7CLF-61002', {
      token,
    });
    const of = found.body.entry?.[0]?.resource?.id ?? '';
    const id = await subscribe({
      filters: [
        `Observation?patient=Patient/${of}`,
        'Observation.code=59408-5',
        'category=vital-signs&status=final',
      ],
    });
    await send([oxygen(93), pressure('auscultation', 121, 77)]);
    const set = await send([oxygen(92), pressure('auscultation', 122, 77)], other);
    await until(() => subscriber.numbers.length > 0);
    await decide(set, 0, { action: 'withdraw', expectedVersion: 1 });
    await send([oxygen(91)], other);
    await until(() => subscriber.numbers.length > 1);
    expect(resources(delivered()).map(({ valueQuantity }) => valueQuantity?.value)).toEqual([
      92, 91,
    ]);
    expect((await owner.status(id)).count).toBe(2);
  });

  it('gives by $events what was delivered, the same bytes, by number', async () => {
    const id = await subscribe({ channel: { extension: [asked('max-count', 2)] } });
    await send();
    await send();
    await send();
    await until(() => subscriber.numbers.length === 9);
    for (const { events } of delivered()) expect(events.length).toBeLessThanOrEqual(2);
    const entries = ({ bundle }: Received) => (bundle.entry ?? []).slice(1);
    const again = await owner.events(id);
    expectSound(again.bundle);
    expect(again.type).toBe('query-event');
    expect(entries(again)).toEqual(delivered().flatMap(entries));
    const some = await owner.events(id, '?eventsSinceNumber=2&eventsUntilNumber=4&content=id-only');
    expect(some.events.map(({ number }) => number)).toEqual([2, 3, 4]);
    expect(entries(some).every(({ resource }) => resource === undefined)).toBe(true);
    const none = await owner.events(id, '?eventsSinceNumber=10');
    expect([none.events, none.count]).toEqual([[], 9]);
  });

  it('delivers no more than its owner may read at that moment', async () => {
    const limit = async (scopes: string, id: string): Promise<void> => {
      await gateway.database.pool.query(
        `update clients set scopes = $1 where client_key =
          (select client_key from subscriptions where subscription_id = $2)`,
        [scopes.split(' '), id],
      );
    };
    const id = await subscribe();
    await send([oxygen(90), pressure('auscultation', 124, 78)]);
    await until(() => subscriber.numbers.length === 3);
    await limit('system/Observation.rs?code=59408-5 system/Subscription.cruds', id);
    await send([oxygen(89), pressure('auscultation', 125, 78)]);
    await until(() => subscriber.numbers.length === 4);
    expect(resources(delivered()).at(-1)?.valueQuantity?.value).toBe(89);
    // No more of what was delivered before, either.
    await new Promise((resolve) => setTimeout(resolve, 2_100));
    expect((await owner.events(id)).events.map(({ number }) => number)).toEqual([1, 4]);
    await limit('system/Subscription.cruds', id);
    await send([oxygen(88)]);
    await until(async () => (await owner.status(id)).errors.length > 0);
    expect((await owner.status(id)).errors[0]).toContain('system/Observation.r');
    await limit('system/*.rs system/Subscription.cruds', id);
    await gateway.database.pool.query('update subscriptions set due_at = now()');
    await until(() => subscriber.numbers.length === 5);
    expect(subscriber.numbers).toEqual([1, 2, 3, 4, 5]);
    await until(async () => (await owner.status(id)).errors.length === 0);
  });

  it('rests while its client has no access, and then goes on where it was', async () => {
    const id = await subscribe();
    const change = (text: string) =>
      gateway.database.pool.query(
        `update clients set ${text} where client_key =
          (select client_key from subscriptions where subscription_id = $1)`,
        [id],
      );
    for (const [shut, open] of [
      ['disabled_at = now()', 'disabled_at = null'],
      ["ends_at = now() - interval '1 minute'", 'ends_at = null'],
    ] as const) {
      await change(shut);
      const before = subscriber.numbers.length;
      const others = await Owner.of(gateway);
      const witness = await others.subscribe(subscriber.url);
      await until(async () => (await others.read(witness)).status === 'active');
      await send([oxygen(91)]);
      await until(async () => (await others.status(witness)).count === 1);
      const own = subscriber.received.filter(({ bundle }) => JSON.stringify(bundle).includes(id));
      expect(own.flatMap(({ events }) => events)).toHaveLength(shut.startsWith('dis') ? 0 : 1);
      await others.ask(`/${witness}`, { method: 'DELETE' });
      await change(open);
      await until(() => subscriber.numbers.length >= before + 2);
    }
    expect((await owner.status(id)).count).toBe(2);
  });

  it('beats while there is nothing to tell', async () => {
    const id = await subscribe({ channel: { extension: [asked('heartbeat-period', 10)] } });
    await send([oxygen(96)]);
    await until(() => subscriber.numbers.length === 1);
    // As if ten seconds had passed.
    const pass = () =>
      gateway.database.pool.query(
        "update subscriptions set last_sent_at = last_sent_at - interval '10 seconds' where subscription_id = $1",
        [id],
      );
    await pass();
    await until(() => subscriber.received.at(-1)?.type === 'heartbeat');
    const beats = () => subscriber.received.filter(({ type }) => type === 'heartbeat');
    expect(beats()[0]).toMatchObject({ status: 'active', count: 1, events: [] });
    expectSound(beats()[0]?.bundle ?? { resourceType: 'Bundle', type: 'history' });
    await until(async () => (await owner.status(id)).errors.length === 0);
    await pass();
    await until(() => beats().length === 2);
  });

  it('ends at its end', async () => {
    const id = await subscribe({ more: { end: new Date(Date.now() + 1_500).toISOString() } });
    await until(async () => (await owner.read(id)).status === 'off');
    await until(async () => (await owner.read(id)).error !== undefined);
    await send([oxygen(96)]);
    expect((await owner.status(id)).errors).toEqual(['Its end has passed.']);
    expect(subscriber.numbers).toEqual([]);
  });

  it('forgets what was delivered long ago, and nothing that waits', async () => {
    const id = await subscribe();
    const kept = async () => (await owner.events(id)).events.map(({ number }) => number);
    await send();
    await send();
    // Of each set two readings and their panel.
    await until(() => subscriber.numbers.length === 6);
    await until(async () => (await kept()).length === 6);
    const { pool } = gateway.database;
    await clearOldEvents(pool, { beforeMs: 0, newest: 3 });
    expect(await kept()).toEqual([4, 5, 6]);
    subscriber.answering = (_received, res) => {
      res.writeHead(500);
    };
    await send([oxygen(96)]);
    await until(async () => (await owner.status(id)).errors.length > 0);
    await clearOldEvents(pool, { beforeMs: Date.now() + 60_000, newest: 100 });
    expect(await kept()).toEqual([7]);
  });

  it('counts no more than may wait, and goes on from there', async () => {
    const id = await subscribe();
    const set = (text: string) =>
      gateway.database.pool.query(`update subscriptions set ${text} where subscription_id = $1`, [
        id,
      ]);
    await set(`status = 'error', events = ${MOST_WAITING}, due_at = now()`);
    const witness = await Owner.of(gateway);
    const other = await witness.subscribe(subscriber.url);
    await send();
    // Two readings and their panel.
    await until(async () => (await witness.status(other)).count === 3);
    expect((await owner.status(id)).count).toBe(MOST_WAITING);
    await set('settled = events');
    await until(async () => (await owner.status(id)).count === MOST_WAITING + 3);
  });

  it('says so when the gateway itself fails at it, and others go on', async () => {
    const id = await subscribe();
    const witness = await Owner.of(gateway);
    const other = await witness.subscribe(subscriber.url);
    await until(async () => (await witness.read(other)).status === 'active');
    // As a newer program might have kept it.
    await gateway.database.pool.query(
      "update subscriptions set topic = 'of-tomorrow' where subscription_id = $1",
      [id],
    );
    await send([oxygen(96)]);
    await until(() => subscriber.numbers.length === 1);
    await until(async () => (await owner.status(id)).errors.length > 0);
    expect((await owner.status(id)).errors[0]).toContain('The gateway failed');
    await gateway.database.pool.query(
      "update subscriptions set topic = 'vital-sign-new', due_at = now() where subscription_id = $1",
      [id],
    );
    await until(() => subscriber.numbers.length === 2);
    await until(async () => (await owner.status(id)).errors.length === 0);
  });
});
