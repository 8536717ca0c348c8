import type { Bundle, OperationOutcome, Subscription } from 'fhir/r4.js';
import { schemaFaults } from '../fhir-validation/r4-json-schema.js';
import type { TestGateway, Told } from '../setup/gateway.js';
import {
  Owner,
  Subscriber,
  asked,
  openNotifyingGateway,
  subscriptionOf,
  until,
} from './subscriber.js';
import type { Wish } from './subscriber.js';

let gateway: TestGateway;
let subscriber: Subscriber;
let owner: Owner;
beforeAll(async () => {
  gateway = await openNotifyingGateway();
  subscriber = await Subscriber.start();
  owner = await Owner.of(gateway);
});
afterAll(async () => {
  await gateway.close();
  await subscriber.stop();
});

const SECRET = 'Bearer s3cret-of-the-record';

function create(wish: Wish = {}, endpoint = subscriber.url): Promise<Told<Subscription>> {
  return owner.create(subscriptionOf(owner.baseUrl, endpoint, wish));
}

async function issueOf(answer: Promise<Told<unknown>>) {
  const { status, body } = await answer;
  const issue = (body as OperationOutcome).issue[0];
  return [status, issue?.code, issue?.expression?.[0]];
}

describe('a Subscription', () => {
  it('is created as requested, and read back with its headers withheld', async () => {
    const made = await create({
      filters: ['Observation?code=8867-4', 'status=final'],
      more: { end: '2099-01-01T00:00:00Z', contact: [{ system: 'phone', value: '555-0100' }] },
      channel: {
        header: [`Authorization: ${SECRET}`, 'X-Ward: 12'],
        extension: [asked('heartbeat-period', 60), asked('timeout', 5), asked('max-count', 20)],
      },
    });
    expect(made.status).toBe(201);
    const { id = '' } = made.body;
    expect(made.headers.get('location')).toBe(`${owner.baseUrl}/Subscription/${id}`);
    expect(made.headers.get('etag')).toBe('W/"1"');
    expect(schemaFaults('Subscription', made.body)).toEqual([]);
    await until(async () => (await owner.read(id)).status === 'active');
    const read = await owner.ask(`/${id}`);
    expect(read.headers.get('etag')).toBe('W/"2"');
    expect(read.body).toMatchObject({
      status: 'active',
      meta: { versionId: '2', profile: [expect.stringContaining('backport-subscription')] },
      end: '2099-01-01T00:00:00.000Z',
      contact: [{ system: 'phone', value: '555-0100' }],
      _criteria: {
        extension: [{ valueString: 'Observation?code=8867-4' }, { valueString: 'status=final' }],
      },
      channel: {
        header: ['Authorization: [not shown]', 'X-Ward: [not shown]'],
        extension: [{ valueUnsignedInt: 60 }, { valueUnsignedInt: 5 }, { valuePositiveInt: 20 }],
      },
    });
    // Who got them sees them; nobody else does.
    expect(subscriber.received.at(-1)?.headers).toMatchObject({ authorization: SECRET });
    const others = await Promise.all(
      ['', `/${id}/$status`, `/${id}/$events`, '/$status'].map((path) => owner.ask(path)),
    );
    for (const { text, status } of [made, read, ...others]) {
      expect(status).toBeLessThan(300);
      expect(text).not.toContain('s3cret');
    }
    const { rows } = await gateway.database.pool.query('select to_jsonb(a) as line from audit a');
    expect(JSON.stringify(rows)).not.toContain('s3cret');
  });

  it('keeps its headers when it is sent back as it was read', async () => {
    const { body } = await create({ channel: { header: [`Authorization: ${SECRET}`] } });
    const { id = '' } = body;
    await until(async () => (await owner.read(id)).status === 'active');
    const read = await owner.read(id);
    const same = await owner.put(id, { ...read, reason: 'the same, in other words' });
    expect([same.status, same.body.status, same.body.reason]).toEqual([
      ...[200, 'active', 'the same, in other words'],
    ]);
    const before = subscriber.received.length;
    const again = await owner.put(id, { ...read, status: 'requested' });
    expect(again.body.status).toBe('requested');
    await until(() => subscriber.received.length > before);
    expect(subscriber.received.at(-1)?.headers).toMatchObject({ authorization: SECRET });
    const { header, ...channel } = read.channel;
    expect(header).toHaveLength(1);
    const bare = await owner.put(id, { ...read, status: 'active', channel });
    expect(bare.body.channel.header).toBeUndefined();
    // A change of where and how is for the subscriber to agree to.
    expect(bare.body.status).toBe('requested');
  });

  it('is there for its owner alone', async () => {
    const { body } = await create();
    const { id = '' } = body;
    const other = await Owner.of(gateway);
    for (const answer of [
      other.ask(`/${id}`),
      other.ask(`/${id}/$status`),
      other.ask(`/${id}/$events`),
      other.ask(`/${id}`, { method: 'DELETE' }),
      other.put(id, body),
      owner.ask('/0197f3c0-0000-7000-8000-000000000001'),
      owner.ask('/nobody'),
    ]) {
      expect(await issueOf(answer)).toEqual([404, 'not-found', undefined]);
    }
    for (const path of ['', `?_id=${id}`, `/$status?id=${id}`]) {
      const found = await other.ask<Bundle>(path);
      expect([path, found.status, found.body.total, found.body.entry]).toEqual([
        ...[path, 200, 0, undefined],
      ]);
    }
  });

  it('needs its own scope, which no wildcard includes, and may be read by r alone', async () => {
    const body = subscriptionOf(owner.baseUrl, subscriber.url);
    const wild = await Owner.of(gateway, 'system/*.cruds');
    expect((await wild.create(body)).status).toBe(403);
    expect((await wild.ask('')).status).toBe(403);
    const blind = await Owner.of(gateway, 'system/Subscription.cruds');
    expect(await issueOf(blind.create(body))).toEqual([403, 'forbidden', undefined]);
    const reader = await Owner.of(gateway, 'system/Subscription.r');
    expect((await reader.create(body)).status).toBe(403);
    expect((await reader.ask('/$status')).status).toBe(403);
    expect((await reader.ask('/0197f3c0-0000-7000-8000-000000000001/$status')).status).toBe(404);
  });

  it.each<[string, Wish, string, string]>([
    ['an unknown topic', { topic: 'vital-sign-guessed' }, 'not-supported', 'Subscription.criteria'],
    [
      'an R4 query',
      { more: { criteria: 'Observation?code=8867-4' } },
      'not-supported',
      'Subscription.criteria',
    ],
    [
      'an unknown filter',
      { filters: ['Observation?colour=red'] },
      'not-supported',
      'Subscription.criteria.extension[0]',
    ],
    [
      'a filter that shapes',
      { filters: ['Observation?_include=Observation:patient'] },
      'value',
      'Subscription.criteria.extension[0]',
    ],
    [
      'a filter of another type',
      { filters: ['Patient?name=x'] },
      'not-supported',
      'Subscription.criteria.extension[0]',
    ],
    [
      'a filter of no value',
      { filters: ['Observation?date=tomorrow'] },
      'value',
      'Subscription.criteria.extension[0]',
    ],
    [
      'another channel',
      { channel: { type: 'email' } },
      'not-supported',
      'Subscription.channel.type',
    ],
    [
      'another form',
      { channel: { payload: 'application/fhir+xml' } },
      'not-supported',
      'Subscription.channel.payload',
    ],
    [
      'no content',
      { channel: { _payload: undefined } },
      'required',
      'Subscription.channel.payload',
    ],
    ['another content', { content: 'everything' }, 'required', 'Subscription.channel.payload'],
    [
      'no endpoint',
      { channel: { endpoint: undefined } },
      'required',
      'Subscription.channel.endpoint',
    ],
    [
      'plain http',
      { channel: { endpoint: 'http://127.0.0.1:1/x' } },
      'value',
      'Subscription.channel.endpoint',
    ],
    [
      'a host that is not allowed',
      { channel: { endpoint: 'https://elsewhere.example/x' } },
      'value',
      'Subscription.channel.endpoint',
    ],
    [
      'a password',
      { channel: { endpoint: 'https://a:b@127.0.0.1/x' } },
      'value',
      'Subscription.channel.endpoint',
    ],
    [
      'a fragment',
      { channel: { endpoint: 'https://127.0.0.1/x#y' } },
      'value',
      'Subscription.channel.endpoint',
    ],
    [
      'a heartbeat too quick',
      { channel: { extension: [asked('heartbeat-period', 1)] } },
      'value',
      'Subscription.channel',
    ],
    [
      'a time-out too long',
      { channel: { extension: [asked('timeout', 600)] } },
      'value',
      'Subscription.channel',
    ],
    [
      'too many at once',
      { channel: { extension: [asked('max-count', 100_000)] } },
      'value',
      'Subscription.channel',
    ],
    [
      'another extension',
      { channel: { extension: [{ url: 'urn:example:x', valueString: 'y' }] } },
      'extension',
      'Subscription.channel',
    ],
    [
      'a header of the body',
      { channel: { header: ['Content-Type: text/plain'] } },
      'value',
      'Subscription.channel.header[0]',
    ],
    [
      'a header of the connection',
      { channel: { header: ['X: y', 'Host: elsewhere'] } },
      'value',
      'Subscription.channel.header[1]',
    ],
    [
      'no header at all',
      { channel: { header: ['secret'] } },
      'value',
      'Subscription.channel.header[0]',
    ],
    [
      'a value that nobody was given',
      { channel: { header: ['X-Key: [not shown]'] } },
      'value',
      'Subscription.channel.header[0]',
    ],
    [
      'an end that has passed',
      { more: { end: '2020-01-01T00:00:00Z' } },
      'value',
      'Subscription.end',
    ],
    ['off from the beginning', { more: { status: 'off' } }, 'business-rule', 'Subscription.status'],
  ])('is refused with %s', async (_what, wish, code, expression) => {
    expect(await issueOf(create(wish))).toEqual([422, code, expression]);
  });

  it('is refused where it is no Subscription of R4', async () => {
    for (const [more, code] of [
      [{ reason: undefined }, 'required'],
      [{ colour: 'red' }, 'structure'],
      [{ end: 'tomorrow' }, 'value'],
      [{ resourceType: 'Basic' }, 'structure'],
      [{ status: 'ready' }, 'value'],
    ] as const) {
      const body = { ...subscriptionOf(owner.baseUrl, subscriber.url), ...more };
      expect((await issueOf(owner.create(body))).slice(0, 2)).toEqual([400, code]);
    }
    expect((await issueOf(owner.create('{')))[0]).toBe(400);
    const conditional = owner.ask('', {
      body: subscriptionOf(owner.baseUrl, subscriber.url),
      headers: { 'content-type': 'application/fhir+json', 'if-none-exist': 'url=x' },
    });
    expect(await issueOf(conditional)).toEqual([400, 'not-supported', 'http.If-None-Exist']);
  });

  it('is changed by its version, never in what it is about, and by nobody to error', async () => {
    const { body } = await create({ filters: ['code=8867-4'] });
    const { id = '' } = body;
    await until(async () => (await owner.read(id)).status === 'active');
    const read = await owner.read(id);
    expect(await issueOf(owner.put(id, read, { 'if-match': 'W/"1"' }))).toEqual([
      ...[412, 'conflict', undefined],
    ]);
    expect((await owner.put(id, read, { 'if-match': 'W/"2"' })).status).toBe(200);
    const others = { ...read, _criteria: { extension: [] as never[] } };
    expect((await issueOf(owner.put(id, { ...read, _criteria: undefined })))[2]).toBe(
      'Subscription.criteria',
    );
    expect((await issueOf(owner.put(id, others)))[0]).toBe(400);
    expect(await issueOf(owner.put(id, { ...read, status: 'error' }))).toEqual([
      ...[422, 'business-rule', 'Subscription.status'],
    ]);
    expect(await issueOf(owner.put(id, { ...read, id: 'other' }))).toEqual([
      ...[400, 'value', 'Subscription.id'],
    ]);
    expect((await owner.put(id, { ...read, status: 'off' })).body.status).toBe('off');
    expect((await owner.ask(`/${id}`, { method: 'DELETE' })).status).toBe(204);
    expect((await owner.ask(`/${id}`)).status).toBe(404);
    const { rows } = await gateway.database.pool.query<{ action: string }>(
      'select action from audit where entity = $1 and address is not null and request_id is not null',
      [`Subscription/${id}`],
    );
    const acts = new Set(rows.map(({ action }) => action).filter((one) => one.startsWith('sub')));
    expect([...acts].sort()).toEqual([
      'subscription-add',
      'subscription-change',
      'subscription-delete',
    ]);
  });

  it('is found by url, status, criteria and id, and by nothing else', async () => {
    const other = await Owner.of(gateway);
    const endpoint = `${subscriber.url}?one`;
    const id = await other.subscribe(endpoint, { topic: 'vital-sign-new' });
    const second = await other.subscribe(subscriber.url);
    const found = async (query: string): Promise<string[]> => {
      const { body, status } = await other.ask<Bundle>(query);
      expect([query, status]).toEqual([query, 200]);
      return (body.entry ?? []).map(({ resource }) => resource?.id ?? '');
    };
    await until(async () => (await found('?status=active')).length === 2);
    expect(await found('')).toEqual([id, second]);
    expect(await found(`?url=${encodeURIComponent(endpoint)}`)).toEqual([id]);
    expect(await found(`?_id=${second}`)).toEqual([second]);
    expect(await found('?status=off,error')).toEqual([]);
    expect(await found(`?criteria=${other.baseUrl}/SubscriptionTopic/vital-sign-new`)).toEqual([
      id,
    ]);
    const first = await other.ask<Bundle>('?_count=1');
    const next = first.body.link?.find(({ relation }) => relation === 'next')?.url ?? '';
    expect(await found(new URL(next).search)).toEqual([second]);
    expect(await found('?_summary=count')).toEqual([]);
    expect((await other.ask('?reason=x')).status).toBe(400);
    expect(await found('/$status?status=off')).toEqual([]);
    expect((await other.ask<Bundle>('/$status')).body.total).toBe(2);
    const posted = await other.ask<Bundle>('/$status', {
      body: { resourceType: 'Parameters', parameter: [{ name: 'id', valueId: second }] },
      headers: { 'content-type': 'application/fhir+json' },
    });
    expect(posted.body.total).toBe(1);
    // FHIR R4 §3.1.1 (search): the self link says what the search was as the server understood it.
    const selves = [posted, await other.ask<Bundle>(`/${id}/$status`)].map(({ body }) => body.link);
    expect(selves).toEqual(
      [`$status?id=${second}`, `${id}/$status`].map((path) => [
        { relation: 'self', url: `${other.baseUrl}/Subscription/${path}` },
      ]),
    );
    expect((await other.ask(`/${id}/$events?eventsSinceNumber=one`)).status).toBe(400);
    expect((await other.ask(`/${id}/$events?since=1`)).status).toBe(400);
  });

  it('is one of few: a client has so many and no more', async () => {
    const other = await Owner.of(gateway);
    const body = subscriptionOf(owner.baseUrl, subscriber.url);
    const made = await Promise.all(Array.from({ length: 22 }, () => other.create(body)));
    expect(made.filter(({ status }) => status === 201)).toHaveLength(20);
    expect(made.filter(({ status }) => status === 422)).toHaveLength(2);
  });
});
