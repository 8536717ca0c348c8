import { request } from 'node:http';
import type { ClientRequest, IncomingMessage } from 'node:http';
import { createInterface } from 'node:readline';
import type { SetPipeline } from '../../../src/serve/sets/pipeline-port.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { registerClient, reply, signIn, startApp, until } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';

const SET = '0190a2c4-0000-4000-8000-000000000002';
const KIB = 1024;

let database: TestDatabase;
let app: RunningApp;
let headers: Record<string, string>;
/** What the pipeline does in this test; what it was asked is kept in `asked`. */
let receive: SetPipeline['receiveSet'];
let asked: unknown[];

const pipeline: SetPipeline = {
  receiveSet: (sender, bytes, type) => receive(sender, bytes, type),
  checkSet: (_sender, bytes) => Promise.resolve(reply(200, { checked: bytes.length })),
  findSet: (_sender, setId) => Promise.resolve(setId === SET ? reply(200, { setId }) : null),
  listChangedSets: (_sender, sinceMs, limit) => Promise.resolve(reply(200, { sinceMs, limit })),
  decideOwn: (_sender, setId, index, bytes) =>
    Promise.resolve(reply(200, { setId, index, bytes: bytes.toString() })),
};

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database, { pipeline });
  const client = await registerClient(database, ['sets.write', 'sets.check']);
  headers = await signIn(app.url, client);
});

beforeEach(() => {
  asked = [];
  receive = (_sender, bytes, type) => {
    asked.push([bytes.toString(), type]);
    return Promise.resolve(reply(201, { got: bytes.length }));
  };
});

afterAll(async () => {
  await app.stop();
  await database.close();
});

async function post(
  path: string,
  body: string | Buffer<ArrayBuffer>,
  type = 'application/json',
): Promise<Response> {
  return fetch(`${app.url}${path}`, {
    method: 'POST',
    headers: { ...headers, 'content-type': type },
    body,
  });
}

async function get(path: string): Promise<Response> {
  return fetch(`${app.url}${path}`, { headers });
}

describe('POST /sets', () => {
  it('hands the very bytes to the pipeline and its answer back', async () => {
    const response = await post('/sets', '{ "a": 1 }', 'Application/JSON; charset=UTF-8');
    expect(response.status).toBe(201);
    expect(response.headers.get('content-type')).toBe('application/json');
    expect(response.headers.has('repeat')).toBe(false);
    expect(await response.json()).toEqual({ got: 10 });
    expect(asked).toEqual([['{ "a": 1 }', 'application/json']]);
  });

  it('says that an answer is a repeat, and which answers are problems', async () => {
    receive = () => Promise.resolve(reply(409, { status: 409 }, { problem: true, repeat: true }));
    const response = await post('/sets', '{}');
    expect(response.status).toBe(409);
    expect(response.headers.get('repeat')).toBe('true');
    expect(response.headers.get('content-type')).toBe('application/problem+json');
  });

  it('takes 256 KiB and no byte more', async () => {
    expect((await post('/sets', 'x'.repeat(256 * KIB))).status).toBe(201);
    const refused = await post('/sets', 'x'.repeat(256 * KIB + 1));
    expect(refused.status).toBe(413);
    expect(await refused.json()).toMatchObject({ status: 413, type: 'about:blank' });
    expect(asked).toHaveLength(1);
  });

  it('answers 413 before a large body has come, and counts one that tells no length', async () => {
    const declared = request(`${app.url}/sets`, {
      method: 'POST',
      headers: { ...headers, 'content-type': 'application/json', 'content-length': 1e9 },
    });
    declared.on('error', () => undefined).write('x');
    const early = await new Promise<IncomingMessage>((resolve) =>
      declared.once('response', resolve),
    );
    expect(early.statusCode).toBe(413);
    declared.destroy();
    const chunks = new ReadableStream<Uint8Array>({
      start(controller) {
        for (let i = 0; i < 5; i += 1) controller.enqueue(Buffer.alloc(64 * KIB));
        controller.close();
      },
    });
    // What Node asks for beside a stream, and the types of browsers do not know.
    const halfDuplex: object = { duplex: 'half' };
    const chunked = await fetch(`${app.url}/sets`, {
      method: 'POST',
      headers: { ...headers, 'content-type': 'application/json' },
      body: chunks,
      ...halfDuplex,
    });
    expect(chunked.status).toBe(413);
    expect(asked).toEqual([]);
  });

  it.each([
    ['text/plain', {}],
    ['', {}],
    ['application/json; charset=iso-8859-1', {}],
    ['application/json', { 'content-encoding': 'gzip' }],
    ['application/x-ndjson', { 'content-encoding': 'br' }],
  ])('refuses the content type %j %j with 415', async (type, more) => {
    const response = await fetch(`${app.url}/sets`, {
      method: 'POST',
      headers: { ...headers, 'content-type': type, ...more },
      body: '{}',
    });
    expect(response.status).toBe(415);
    expect(asked).toEqual([]);
  });

  it('answers 503 with Retry-After when the database is away, and 500 to a fault of ours', async () => {
    receive = () => Promise.reject(Object.assign(new Error('no'), { code: 'ECONNREFUSED' }));
    const away = await post('/sets', '{}');
    expect(away.status).toBe(503);
    expect(Number(away.headers.get('retry-after'))).toBeGreaterThan(0);
    receive = () => Promise.reject(new Error('a secret inside'));
    const broken = await post('/sets', '{}');
    expect(broken.status).toBe(500);
    expect(await broken.text()).not.toContain('secret');
  });
});

describe('the other sets routes', () => {
  it('checks a set', async () => {
    expect(await (await post('/sets/check', '{}')).json()).toEqual({ checked: 2 });
    expect((await get('/sets/check')).status).toBe(404);
  });

  it('reads an own set, and knows no other', async () => {
    expect(await (await get(`/sets/${SET}`)).json()).toEqual({ setId: SET });
    for (const other of [SET.replace('2', '3'), 'x', '..%2F..', '%00']) {
      const response = await get(`/sets/${other}`);
      expect(response.status).toBe(404);
      expect(response.headers.get('content-type')).toBe('application/problem+json');
    }
  });

  it('hands decisions on with set and index', async () => {
    const path = `/sets/${SET}/readings/3/decisions`;
    expect(await (await post(path, '{"action":"withdraw"}')).json()).toEqual({
      setId: SET,
      index: 3,
      bytes: '{"action":"withdraw"}',
    });
    for (const index of ['-1', '1.5', '100000', 'x']) {
      expect((await post(`/sets/${SET}/readings/${index}/decisions`, '{}')).status).toBe(404);
    }
  });

  it.each([
    ['2026-03-01T07:15:00Z', 1772349300000],
    ['2026-03-01T08:15:00%2B01:00', 1772349300000],
    ['2026-03-01T07:15:00.250Z', 1772349300250],
    ['2024-02-29t00:00:00z', 1709164800000],
    // Years that have no four digits in UTC: nothing is older than the one, or newer than the other.
    ['0000-01-01T00:00:00Z', 0],
    ['0001-01-01T00:00:00%2B14:00', 0],
    ['9999-12-31T23:59:59-14:00', 253402300799999],
  ])('lists what changed since %s', async (time, sinceMs) => {
    const response = await get(`/sets?changedSince=${time}&limit=7`);
    expect(await response.json()).toEqual({ sinceMs, limit: 7 });
  });

  it.each([
    ['', 'missing'],
    ['?changedSince=', 'missing'],
    ['?changedSince=2026-03-01T08:15:00+01:00', '%2B'],
    ['?changedSince=2026-02-30T00:00:00Z', 'RFC 3339'],
    ['?changedSince=2026-03-01T24:00:00Z', 'RFC 3339'],
    ['?changedSince=2026-03-01T07:15:00', 'RFC 3339'],
    ['?changedSince=2026-03-01', 'RFC 3339'],
    ['?changedSince=yesterday', 'RFC 3339'],
    ['?changedSince=2026-03-01T07:15:00Z&changedSince=2026-03-01T07:15:00Z', 'once'],
    ['?changedSince=2026-03-01T07:15:00Z&limit=0', 'limit'],
    ['?changedSince=2026-03-01T07:15:00Z&limit=1001', 'limit'],
    ['?changedSince=2026-03-01T07:15:00Z&limit=1e2', 'limit'],
    ['?changedSince=%zz', 'percent'],
    ['?changedSince=%ff', 'percent'],
  ])('refuses the query %s', async (query, word) => {
    const response = await get(`/sets${query}`);
    expect(response.status).toBe(400);
    const { detail } = (await response.json()) as { detail: string };
    expect(detail).toContain(word);
  });
});

interface AnswerLine {
  status: number;
  body: { got?: number; detail?: string };
}

async function postLines(body: string | Buffer<ArrayBuffer>): Promise<AnswerLine[]> {
  const response = await post('/sets', body, 'application/x-ndjson');
  expect(response.status).toBe(200);
  expect(response.headers.get('content-type')).toBe('application/x-ndjson');
  const lines = (await response.text()).split('\n').filter((line) => line !== '');
  return lines.map((line) => JSON.parse(line) as AnswerLine);
}

/** A request whose body and answer are both open, as a device keeps it. */
async function openStream(): Promise<{ req: ClientRequest; res: IncomingMessage }> {
  const req = request(`${app.url}/sets`, {
    method: 'POST',
    headers: { ...headers, 'content-type': 'application/x-ndjson' },
  });
  req.on('error', () => undefined);
  req.flushHeaders();
  const res = await new Promise<IncomingMessage>((resolve) => req.once('response', resolve));
  return { req, res };
}

describe('POST /sets with NDJSON', () => {
  it('answers each line in order, though a later one is ready first', async () => {
    receive = async (_sender, bytes) => {
      const wait = Number(bytes.toString());
      await new Promise((resolve) => setTimeout(resolve, wait));
      return reply(201, { got: wait });
    };
    const answers = await postLines('60\n1\n\n30\n2\n');
    expect(answers.map(({ body }) => body.got)).toEqual([60, 1, 30, 2]);
  });

  it('answers a line before the next one is sent', async () => {
    const { req, res } = await openStream();
    const lines = createInterface(res)[Symbol.asyncIterator]();
    for (const text of ['1', '22', '333']) {
      req.write(`${text}\n`);
      const line = (await lines.next()) as IteratorYieldResult<string>;
      expect(JSON.parse(line.value)).toEqual({ status: 201, body: { got: text.length } });
    }
    req.end();
    expect(await lines.next()).toMatchObject({ done: true });
  });

  it('lets a line fail alone: too long, no UTF-8, database away, a fault of ours', async () => {
    receive = (_sender, bytes) => {
      const text = bytes.toString();
      if (text === 'away') return Promise.reject(Object.assign(new Error(), { code: '57P01' }));
      if (text === 'fault') return Promise.reject(new Error('a secret inside'));
      const valid = Buffer.from(text).equals(bytes);
      return Promise.resolve(reply(valid ? 201 : 400, { got: bytes.length }));
    };
    const answers = await postLines(
      Buffer.concat([
        Buffer.from(`1\n${'x'.repeat(256 * KIB + 1)}\n`),
        Buffer.from([0xff, 0x0a]),
        Buffer.from('away\nfault\n5'),
      ]),
    );
    expect(answers.map(({ status }) => status)).toEqual([201, 413, 400, 503, 500, 201]);
    expect(JSON.stringify(answers)).not.toContain('secret');
    expect(app.log()).toContain('a secret inside');
  });

  it('ends with a 413 line when the body is over 16 MiB', async () => {
    const line = `${'x'.repeat(255 * KIB)}\n`;
    const answers = await postLines(line.repeat(70));
    expect(answers.length).toBeGreaterThan(60);
    expect(answers.length).toBeLessThan(66);
    expect(answers.at(-1)?.status).toBe(413);
    expect(answers.slice(0, -1).every(({ status }) => status === 201)).toBe(true);
  });

  it('reads no faster than its answers are taken', async () => {
    let received = 0;
    const large = 'x'.repeat(64 * KIB);
    receive = () => {
      received += 1;
      return Promise.resolve(reply(201, { large }));
    };
    const { req, res } = await openStream();
    res.pause();
    const total = 2000;
    req.end('1\n'.repeat(total));
    await new Promise((resolve) => setTimeout(resolve, 500));
    // 2000 answers are 125 MiB; what waits unread lies in socket buffers of a few MiB.
    expect(received).toBeLessThan(total / 2);
    let answers = 0;
    for await (const line of createInterface(res)) answers += line === '' ? 0 : 1;
    expect(answers).toBe(total);
    expect(received).toBe(total);
  });

  it('finishes what is at work when the client goes away, and lives on', async () => {
    let started = 0;
    const finished: string[] = [];
    let release = (): void => undefined;
    const gate = new Promise<void>((resolve) => (release = resolve));
    receive = async (_sender, bytes) => {
      started += 1;
      await gate;
      finished.push(bytes.toString());
      return reply(201, {});
    };
    const { req, res } = await openStream();
    const closed = new Promise((resolve) => res.once('close', resolve));
    res.on('error', () => undefined);
    req.write('1\n2\n3\n');
    await until(() => started === 3);
    req.destroy();
    await closed;
    release();
    await until(() => finished.length === 3);
    expect(finished).toEqual(['1', '2', '3']);
    expect((await get(`/sets/${SET}`)).status).toBe(200);
  });
});
