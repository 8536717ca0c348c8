import type { ServerResponse } from 'node:http';
import { oxygen, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import {
  Owner,
  Subscriber,
  asked,
  notifyingEnv,
  openNotifyingGateway,
  until,
} from './subscriber.js';
import type { Answering, Received } from './subscriber.js';

let gateway: TestGateway;
let subscriber: Subscriber;
let owner: Owner;
let patient: TestPatient;
let sender: string;
beforeAll(async () => {
  gateway = await openNotifyingGateway();
  sender = await gateway.token('sets.write');
  patient = await registerPatient(gateway, 'LF-62001');
});
afterAll(() => gateway.close());
beforeEach(async () => {
  subscriber = await Subscriber.start();
  owner = await Owner.of(gateway);
});
afterEach(async () => {
  await subscriber.stop();
  await gateway.database.pool.query('delete from subscriptions');
});

let saturation = 0;
async function send(count = 1): Promise<void> {
  const readings = Array.from({ length: count }, () => oxygen(92 + (saturation++ % 8)));
  // Each of a device of its own, so that none is taken for a double.
  const body = setOf(
    patient,
    readings.map((one, i) => ({
      ...one,
      device: { identifier: { system: 'urn:example:device', value: `OX-${i}` } },
    })),
  );
  await gateway.ask('/sets', { token: sender, body });
}

async function subscribe(channel: object = {}): Promise<string> {
  // Saturations alone: the panels of several readings are not what is counted here.
  const filters = ['Observation?code=59408-5'];
  const id = await owner.subscribe(subscriber.url, { channel, filters });
  await until(async () => (await owner.read(id)).status === 'active');
  return id;
}

const answer =
  (status: number, headers: Record<string, string> = {}): Answering =>
  (_received, res) => {
    res.writeHead(status, headers);
  };

const onlyEvents =
  (answering: Answering): Answering =>
  (received, res) =>
    received.type === 'event-notification' ? answering(received, res) : undefined;

const change = (id: string, text: string) =>
  gateway.database.pool.query(`update subscriptions set ${text} where subscription_id = $1`, [id]);
/** As if the wait were over. */
const hurry = (id: string) => change(id, 'due_at = now()');

async function row(id: string): Promise<Record<string, unknown>> {
  const { rows } = await gateway.database.pool.query<{ row: Record<string, unknown> }>(
    `select to_jsonb(s) || jsonb_build_object('wait', extract(epoch from s.due_at - now())) as row
       from subscriptions s where subscription_id = $1`,
    [id],
  );
  return rows[0]?.row ?? {};
}

describe('a handshake that fails', () => {
  it.each([
    ['answers 500', answer(500), 'The subscriber answered 500.'],
    [
      'redirects',
      answer(302, { Location: 'https://127.0.0.1/' }),
      '127.0.0.1 answers with a redirect.',
    ],
    ['closes early', (_: Received, res: ServerResponse) => void res.destroy(), 'cannot be reached'],
  ])('makes it an error: it %s', async (_what, answering, words) => {
    subscriber.answering = answering;
    const id = await owner.subscribe(subscriber.url);
    await until(async () => (await owner.read(id)).status === 'error');
    const read = await owner.read(id);
    expect(read.error).toContain(words);
    expect(subscriber.received).toHaveLength(1);
    // What happens meanwhile is counted, and told when its owner has asked again.
    await send();
    await until(async () => (await owner.status(id)).count === 1);
    subscriber.answering = () => undefined;
    expect((await owner.put(id, { ...read, status: 'requested' })).status).toBe(200);
    await until(() => subscriber.numbers.length === 1);
    expect(await owner.status(id)).toMatchObject({ status: 'active', errors: [] });
  });

  it('makes it an error where nobody is, and where nobody answers in time', async () => {
    const gone = await Subscriber.start();
    await gone.stop();
    const nowhere = await owner.subscribe(gone.url);
    subscriber.answering = () => new Promise(() => undefined);
    const hanging = await owner.subscribe(subscriber.url, {
      channel: { extension: [asked('timeout', 1)] },
    });
    await until(async () => (await owner.read(nowhere)).status === 'error');
    expect((await owner.read(nowhere)).error).toContain('ECONNREFUSED');
    await until(async () => (await owner.read(hanging)).status === 'error');
    expect((await owner.read(hanging)).error).toContain('did not answer in time');
  });
});

describe('a subscriber that fails', () => {
  it.each([
    ['answers 500', answer(500)],
    ['answers 404', answer(404)],
    ['answers 401', answer(401)],
    ['redirects', answer(307, { Location: 'https://127.0.0.1/' })],
    ['closes early', (_: Received, res: ServerResponse) => void res.destroy()],
    [
      'answers without end',
      (_: Received, res: ServerResponse) => {
        res.write('x'.repeat(2 * 1024 * 1024));
      },
    ],
  ])('is told again, in order, when it %s', async (_what, answering) => {
    const id = await subscribe({ extension: [asked('max-count', 1)] });
    let failures = 2;
    subscriber.answering = onlyEvents((received, res) =>
      failures-- > 0 ? answering(received, res) : undefined,
    );
    await send(3);
    await until(async () => Number((await row(id)).failures) === 1);
    const { errors, status, count } = await owner.status(id);
    expect([status, count, errors.length]).toEqual(['active', 3, 1]);
    await hurry(id);
    await until(async () => Number((await row(id)).failures) === 2);
    await hurry(id);
    await until(() => subscriber.numbers.length === 5);
    expect(subscriber.numbers).toEqual([1, 1, 1, 2, 3]);
    await until(async () => (await owner.status(id)).errors.length === 0);
  });

  it('is waited for longer each time, and as long as it asks for', async () => {
    const id = await subscribe();
    subscriber.answering = onlyEvents(answer(503, { 'Retry-After': '1200' }));
    await send();
    await until(async () => Number((await row(id)).failures) === 1);
    expect(Number((await row(id)).wait)).toBeGreaterThan(1_100);
    subscriber.answering = onlyEvents(answer(500));
    await change(id, 'due_at = now(), failures = 8');
    await until(async () => Number((await row(id)).failures) === 9);
    const { wait } = await row(id);
    expect(Number(wait)).toBeGreaterThan(100);
    expect(Number(wait)).toBeLessThan(257);
  });

  it('for a day makes it an error, until its owner asks again; nothing is lost', async () => {
    const id = await subscribe();
    subscriber.answering = onlyEvents(answer(500));
    await send();
    await until(async () => Number((await row(id)).failures) === 1);
    await change(id, "due_at = now(), failing_since = now() - interval '1 day'");
    await until(async () => (await owner.read(id)).status === 'error');
    await send(2);
    await until(async () => (await owner.status(id)).count === 3);
    const { status, errors } = await owner.status(id);
    expect([status, errors]).toEqual([
      ...['error', ['Nothing was taken for a day. The subscriber answered 500.']],
    ]);
    const before = subscriber.received.length;
    expect((await owner.events(id)).events.map(({ number }) => number)).toEqual([1, 2, 3]);
    expect(subscriber.received).toHaveLength(before);
    subscriber.answering = () => undefined;
    subscriber.received.length = 0;
    await owner.put(id, { ...(await owner.read(id)), status: 'requested' });
    await until(() => subscriber.numbers.length === 3);
    expect(subscriber.received.map(({ type }) => type)).toEqual([
      'handshake',
      'event-notification',
    ]);
  });

  it('and says 410 is never told again', async () => {
    const id = await subscribe();
    subscriber.answering = onlyEvents(answer(410));
    await send();
    await until(async () => (await owner.read(id)).status === 'off');
    const told = subscriber.received.length;
    await send();
    const witness = await Owner.of(gateway);
    const other = await witness.subscribe(subscriber.url);
    await until(async () => (await witness.read(other)).status === 'active');
    expect(subscriber.received).toHaveLength(told + 1);
    expect((await owner.read(id)).error).toBe('The subscriber answered 410.');
  });

  it('by refusing one event gets the others, and that one stays to be read', async () => {
    const id = await subscribe();
    const bad = 4;
    subscriber.answering = onlyEvents(({ events }, res) => {
      if (events.some(({ number }) => number === bad)) res.writeHead(422);
    });
    await send(6);
    await until(async () => {
      await hurry(id);
      return Number((await row(id)).settled) === 6;
    });
    const taken = subscriber.received
      .filter(({ events }) => events.every(({ number }) => number !== bad))
      .flatMap(({ events }) => events.map(({ number }) => number));
    expect(taken).toEqual([1, 2, 3, 5, 6]);
    const { status, errors } = await owner.status(id);
    expect(status).toBe('active');
    expect(errors).toEqual([
      expect.stringMatching(
        /^Event 4 was given up after \d attempts: The subscriber answered 422\.$/,
      ),
    ]);
    const { events } = await owner.events(id, `?eventsSinceNumber=${bad}&eventsUntilNumber=${bad}`);
    expect(events.map(({ number }) => number)).toEqual([bad]);
  });

  it('by refusing everything makes it an error after three events', async () => {
    const id = await subscribe({ extension: [asked('max-count', 1)] });
    subscriber.answering = onlyEvents(answer(400));
    await send(5);
    await until(async () => {
      await hurry(id);
      return (await owner.read(id)).status === 'error';
    });
    expect((await row(id)).settled).toBe(3);
    expect((await owner.status(id)).errors).toHaveLength(4);
  });

  it('and hangs keeps nobody else waiting', async () => {
    const id = await subscribe({ extension: [asked('timeout', 5)] });
    const quick = await Subscriber.start();
    const other = await owner.subscribe(quick.url);
    await until(async () => (await owner.read(other)).status === 'active');
    let hanging = true;
    subscriber.answering = () => (hanging ? new Promise(() => undefined) : undefined);
    await send();
    await until(() => subscriber.numbers.length === 1);
    await send();
    await until(() => quick.numbers.length === 2);
    expect(Number((await row(id)).settled)).toBe(0);
    hanging = false;
    await until(() => subscriber.numbers.length === 3);
    expect(subscriber.numbers).toEqual([1, 1, 2]);
    await quick.stop();
  });

  it('is heard of in the metrics, without a word about anybody', async () => {
    const id = await subscribe();
    subscriber.answering = onlyEvents(answer(500));
    await send();
    await until(async () => Number((await row(id)).failures) === 1);
    const { text } = await gateway.ask('/metrics', { token: await gateway.token('metrics.read') });
    const figure = (name: string): number =>
      Number(new RegExp(`^${name.replace(/[{}"]/g, '\\$&')} (\\S+)$`, 'm').exec(text)?.[1]);
    expect(
      figure(
        'gateway_subscription_notifications_total{type="event-notification",outcome="failed"}',
      ),
    ).toBeGreaterThan(0);
    expect(figure('gateway_subscriptions{status="active"}')).toBe(1);
    expect(figure('gateway_subscription_lag_seconds')).toBeGreaterThan(0);
    expect(text).not.toContain(id);
  });
});

it('a gateway that is stopped breaks off what hangs, and leaves it to the next', async () => {
  const { env, remove } = notifyingEnv();
  const stopping = await openTestGateway(env);
  const client = await Owner.of(stopping);
  let arrived = 0;
  subscriber.answering = () => new Promise(() => (arrived += 1));
  const id = await client.subscribe(subscriber.url, {
    channel: { extension: [asked('timeout', 60)] },
  });
  await until(() => arrived === 1);
  await stopping.gateway.stop();
  const { rows } = await stopping.database.pool.query(
    'select status, failures, leased_until from subscriptions where subscription_id = $1',
    [id],
  );
  expect(rows).toEqual([{ status: 'requested', failures: 0, leased_until: null }]);
  await stopping.database.close();
  remove();
}, 20_000);

it('the admin sees how all subscriptions stand, and what was given up', async () => {
  const id = await subscribe({ header: ['X-Key: s3cret'], extension: [asked('max-count', 1)] });
  subscriber.answering = onlyEvents(({ events }, res) => {
    if (events[0]?.number === 1) res.writeHead(413);
  });
  await send(2);
  await until(async () => {
    await hurry(id);
    return Number((await row(id)).settled) === 2;
  });
  const { body, text } = await gateway.ask<{ subscriptions: Record<string, unknown>[] }>(
    '/admin/subscriptions',
    { token: await gateway.token('admin') },
  );
  expect(body.subscriptions).toEqual([
    expect.objectContaining({
      ...{ subscription: id, status: 'active', events: 2, settled: 2, failures: 0 },
      host: new URL(subscriber.url).host,
      deadLetters: [expect.objectContaining({ event: 1, reason: 'The subscriber answered 413.' })],
    }),
  ]);
  expect(text).not.toMatch(/s3cret|notify/);
  expect((await gateway.ask('/admin/subscriptions', { token: owner.token })).status).toBe(403);
});
