import { createHash, randomUUID } from 'node:crypto';
import { identifierOf, newNumber, faultsOf, openReviewDesk, saturation } from './review-desk.js';
import type { Json, ReviewDesk } from './review-desk.js';
import { auditRows } from '../../setup/audit-rows.js';

let desk: ReviewDesk;
let ward: string;
beforeAll(async () => {
  desk = await openReviewDesk();
  ward = await desk.gateway.token('sets.write');
});
afterAll(() => desk.gateway.close());

interface Submission extends Json {
  readonly submission: string;
  readonly status: number;
}
interface Page {
  readonly submissions: readonly Submission[];
  readonly next: string | null;
}

const list = (query: string) => desk.ask<Page>(`/review/submissions?${query}`);

async function sendBytes(bytes: Buffer, contentType = 'application/json'): Promise<number> {
  const answer = await fetch(`${desk.gateway.url}/sets`, {
    method: 'POST',
    headers: { authorization: `Bearer ${ward}`, 'content-type': contentType },
    body: new Uint8Array(bytes),
  });
  await answer.text();
  return answer.status;
}

async function newest(): Promise<Submission> {
  const found = (await list('limit=1')).body.submissions[0];
  if (found === undefined) throw new Error('nothing was kept');
  return found;
}

function setBytes(reading: unknown, setId = randomUUID()): Buffer {
  const patient = { identifier: identifierOf(newNumber()) };
  const body = { setId, patient, takenAt: '2026-05-04T03:02:01Z', readings: [reading] };
  return Buffer.from(JSON.stringify(body, null, 3));
}

/** An answer's bytes, not its text. */
async function raw(id: string): Promise<{ headers: Headers; bytes: Buffer }> {
  const token = await desk.gateway.token('review.read');
  const answer = await fetch(`${desk.gateway.url}/review/submissions/${id}/raw`, {
    headers: { authorization: `Bearer ${token}` },
  });
  return { headers: answer.headers, bytes: Buffer.from(await answer.arrayBuffer()) };
}

describe('the bytes of a submission', () => {
  it.each<[what: string, bytes: Buffer, status: number]>([
    ['a set', setBytes(saturation(96)), 201],
    ['a set of which nothing stands', setBytes(saturation(107)), 422],
    ['what is not UTF-8', Buffer.from([0x7b, 0xff, 0xfe, 0x00, 0x0d, 0x0a, 0x80]), 400],
    ['markup', Buffer.from('<html><script>alert("held")</script>\r\n'), 400],
    ['nothing', Buffer.alloc(0), 400],
    ['250 KiB that cannot be compressed', createNoise(250 * 1024), 400],
  ])('are given back exactly, inert and with their hash: %s', async (_what, bytes, status) => {
    expect(await sendBytes(bytes)).toBe(status);
    const facts = await newest();
    const digest = createHash('sha256').update(bytes).digest();
    expect(facts).toMatchObject({
      status,
      kind: 'set',
      byteLength: bytes.length,
      sha256: digest.toString('hex'),
      contentType: 'application/json',
      source: 'ward tablets',
    });
    const kept = await raw(facts.submission);
    expect(kept.bytes.equals(bytes)).toBe(true);
    expect(kept.headers.get('content-type')).toBe('application/octet-stream');
    expect(kept.headers.get('content-disposition')).toMatch(/^attachment/);
    expect(kept.headers.get('x-content-type-options')).toBe('nosniff');
    expect(kept.headers.get('cache-control')).toBe('no-store');
    // RFC 9530 §3 and the byte sequence of RFC 9651 §3.3.5.
    expect(kept.headers.get('repr-digest')).toBe(`sha-256=:${digest.toString('base64')}:`);
  });

  it('are not shown when they are no longer those that arrived', async () => {
    await sendBytes(Buffer.from('{"a":1}'));
    const { submission } = await newest();
    await desk.gateway.database.pool.query(
      'update submissions set sha256 = sha256(sha256) where submission_id = $1',
      [submission],
    );
    const answer = await desk.ask(`/review/submissions/${submission}/raw`);
    expect([answer.status, answer.text.includes('"a"')]).toEqual([500, false]);
  });

  it('are shown to nobody who is not put down for it soon after', async () => {
    await sendBytes(Buffer.from('[]'));
    const { submission } = await newest();
    await raw(submission);
    const rows = await auditRows(
      desk.gateway.database.pool,
      "action = 'review-raw' and entity = $1",
      [`submissions/${submission}`],
    );
    expect(rows.map(({ outcome }) => outcome)).toEqual([200]);
  });

  it.each(['0190a0a0-0000-7000-8000-000000000000', 'x'])('of %s are not there', async (id) => {
    for (const path of [id, `${id}/raw`]) {
      const answer = await desk.ask(`/review/submissions/${path}`);
      expect([answer.status, answer.headers.get('content-type')]).toEqual([
        404,
        'application/problem+json',
      ]);
    }
  });
});

/** The same bytes each time, of which none follows from the others. */
function createNoise(length: number): Buffer {
  const blocks = Array.from({ length: Math.ceil(length / 32) }, (_, i) =>
    createHash('sha256').update(String(i)).digest(),
  );
  return Buffer.concat(blocks).subarray(0, length);
}

describe('the facts of a submission', () => {
  it('come with what was answered and how its readings stand now', async () => {
    const sent = await desk.send([saturation(95), saturation(109)]);
    const { body } = await desk.ask<Submission & { answer: Json; readings: readonly Json[] }>(
      `/review/submissions/${sent.submission}`,
    );
    expect(faultsOf('review-reading:1#/$defs/submission', body)).toEqual([]);
    expect(body).toMatchObject({ setId: sent.setId, status: 201, answer: { ...sent } });
    expect(body.readings).toMatchObject([
      { index: 0, verdict: 'accepted', state: 'clear' },
      { index: 1, verdict: 'rejected', state: 'rejected' },
    ]);
  });

  it('of a refused body tell its faults', async () => {
    await sendBytes(Buffer.from('{"setId": 3}'));
    const { submission } = await newest();
    const { body } = await desk.ask(`/review/submissions/${submission}`);
    expect(body).toMatchObject({
      status: 400,
      setId: null,
      answer: { status: 400, errors: expect.any(Array) as unknown[] },
      readings: [],
    });
  });
});

describe('the list of submissions', () => {
  it('finds what was refused, which has no readings, and pages through it', async () => {
    const setId = randomUUID();
    await sendBytes(setBytes(saturation(96), setId));
    await sendBytes(setBytes(saturation(97), setId));
    await sendBytes(Buffer.from('nonsense'));
    const refused = await list('status=400,409&kind=set');
    expect(refused.body.submissions.slice(0, 2).map(({ status }) => status)).toEqual([400, 409]);
    expect(refused.body.submissions.every(({ status }) => status !== 201)).toBe(true);
    const walked: string[] = [];
    let cursor = '';
    do {
      const { body } = await list(`status=400,409&kind=set&limit=2${cursor}`);
      walked.push(...body.submissions.map(({ submission }) => submission));
      cursor = body.next === null ? '' : `&cursor=${body.next}`;
    } while (cursor !== '');
    expect(walked).toEqual(refused.body.submissions.map(({ submission }) => submission));
  });

  it('finds by time of receipt and by source', async () => {
    const fromMs = Date.now();
    await desk.sendFrom(desk.monitorToken, [saturation(94)]);
    const toMs = Date.now() + 1;
    const range = `receivedFrom=${new Date(fromMs).toISOString()}&receivedTo=${new Date(toMs).toISOString()}`;
    expect((await list(range)).body.submissions).toMatchObject([{ source: 'corridor monitors' }]);
    expect((await list(`${range}&source=ward tablets`)).body.submissions).toEqual([]);
    expect((await list(`receivedTo=${new Date(0).toISOString()}`)).body.submissions).toEqual([]);
    expect((await list('receivedFrom=9999-12-31T23:59:59Z')).body.submissions).toEqual([]);
  });

  it.each([
    ['status=refused', 'status must be HTTP statuses joined by commas'],
    ['status=4000', 'status must be HTTP statuses joined by commas'],
    ['kind=both', 'kind must be one of set, decision, reference-check, message.'],
    ['receivedFrom=today', 'receivedFrom must be an RFC 3339 time'],
    ['patient=x', 'There is no parameter patient.'],
    ['cursor=x', 'cursor was not given out here.'],
  ])('refuses ?%s', async (query, sentence) => {
    const answer = await list(query);
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({ detail: expect.stringContaining(sentence) as string });
  });
});
