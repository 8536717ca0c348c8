import { auditRows } from '../../setup/audit-rows.js';
import { openHeldWard } from '../../setup/held-ward.js';
import type { HeldWard } from '../../setup/held-ward.js';
import { minutesAgo } from '../../setup/example-sets.js';
import { visitAs } from '../../setup/people.js';
import type { Visitor } from '../../setup/people.js';

let ward: HeldWard;
let ines: Visitor;
let rafe: Visitor;

beforeAll(async () => {
  ward = await openHeldWard();
  ines = await visitAs(ward.gateway, ward.passwords, 'ines');
  rafe = await visitAs(ward.gateway, ward.passwords, 'rafe');
});
afterAll(() => ward.gateway.close());

async function htmlOf(answer: Promise<Response>): Promise<string> {
  return (await answer).text();
}

function rowOrder(html: string): string[] {
  return [...html.matchAll(/data-reading="([^"]+)"/g)].map(([, id]) => id ?? '');
}

const reason = { reasonCode: 'confirmed-at-bedside', reason: 'Measured again by hand' };

async function statusOf(id: string): Promise<unknown> {
  const { rows } = await ward.gateway.database.pool.query(
    'select verdict, status, version from readings where reading_id = $1 and superseded is null',
    [id],
  );
  return rows[0];
}

describe('the list of held readings', () => {
  it('has the critical ones first, with a word, whatever came later', async () => {
    const rare = await ward.sendRareWeight();
    const [critical, other] = await ward.sendDisagreement(78);
    const html = await htmlOf(ines.get('/desk'));
    const order = rowOrder(html);
    expect(order[0]).toBe(critical);
    expect(order.slice(1)).toEqual(expect.arrayContaining([rare, other]));
    const row = html.slice(html.indexOf(`data-reading="${critical}"`));
    expect(row.slice(0, row.indexOf('</tr>'))).toMatch(
      /class="mark urgent">Critical<.*Out, unconfirmed/s,
    );
  });

  it('is told apart by state and reason', async () => {
    const rare = await ward.sendRareWeight();
    const [critical] = await ward.sendDisagreement(78);
    expect(rowOrder(await htmlOf(ines.get('/desk?state=waiting')))).not.toContain(critical);
    expect(rowOrder(await htmlOf(ines.get('/desk?state=out')))).toContain(critical);
    const weights = rowOrder(await htmlOf(ines.get('/desk?rule=value-doubtful')));
    expect(weights).toContain(rare);
    expect(weights).not.toContain(critical);
    expect(rowOrder(await htmlOf(ines.get('/desk?vital=body-weight')))).toContain(rare);
  });

  it.each(['state=anything', 'patient=LF-40001', 'after=AAAA', 'vital=colour'])(
    'refuses %s in words',
    async (query) => {
      const answer = await ines.get(`/desk?${query}`);
      expect([answer.status, answer.headers.get('content-type')]).toEqual([
        400,
        'text/html; charset=utf-8',
      ]);
    },
  );

  it('leaves on record who looked at whom', async () => {
    await ines.get('/desk');
    const [row] = await auditRows(
      ward.gateway.database.pool,
      `action = 'desk-held' and patient_key is not null`,
    );
    expect(row).toMatchObject({ outcome: 200, entity: 'desk' });
  });

  it('shows a name with markup as the text that it is', async () => {
    const { pool } = ward.gateway.database;
    await pool.query(
      `update patient_versions set resource = jsonb_set(resource, '{name,0}', '{"text":"<img src=x onerror=alert(1)>"}')`,
    );
    await ward.sendRareWeight();
    const html = await htmlOf(ines.get('/desk'));
    expect(html).toContain('&lt;img src=x');
    expect(html).not.toContain('<img');
  });
});

describe('deciding several at once', () => {
  it('decides each by itself and says what came of each', async () => {
    const ids = [await ward.sendRareWeight(), await ward.sendRareWeight()];
    const [first = '', second = ''] = ids;
    // Somebody else is quicker with the second.
    await rafe.post(`/desk/readings/${second}/decisions`, {
      ...reason,
      action: 'reject',
      expectedVersion: '1',
    });
    const body = new URLSearchParams({ csrf: ines.csrf, action: 'release', ...reason });
    for (const id of ids) body.append('reading', `${id} 1`);
    const answer = await fetch(`${ward.gateway.url}/desk/decisions`, {
      method: 'POST',
      headers: { cookie: ines.cookie, accept: 'text/html' },
      body,
    });
    const html = await answer.text();
    expect(html).toContain('1 of 2 were decided.');
    expect(html).toMatch(/A-212.{0,20} rejected it at/s);
    expect(await statusOf(first)).toMatchObject({ verdict: 'noted', status: 'final' });
    expect(await statusOf(second)).toMatchObject({ verdict: 'rejected', status: null, version: 2 });
  });

  it.each([
    ['nothing marked', async () => Promise.resolve([])],
    ['a mark that is none', async () => Promise.resolve(['x 1'])],
    [
      'different reasons',
      async () => {
        const early = { takenAt: minutesAgo(-20) };
        const weight = { vital: 'body-weight', value: 71, unit: 'kg' };
        const { readings } = await ward.send([weight], early);
        return [`${await ward.sendRareWeight()} 1`, `${readings[0]?.reading ?? ''} 1`];
      },
    ],
  ])('does nothing with %s', async (_name, makeMarks) => {
    const marks = await makeMarks();
    const body = new URLSearchParams({ csrf: ines.csrf, action: 'reject', ...reason });
    for (const mark of marks) body.append('reading', mark);
    const answer = await fetch(`${ward.gateway.url}/desk/decisions`, {
      method: 'POST',
      headers: { cookie: ines.cookie, accept: 'text/html' },
      body,
    });
    expect(answer.status).toBe(400);
    for (const mark of marks.filter((one) => one.length > 10)) {
      expect(await statusOf(mark.split(' ')[0] ?? '')).toMatchObject({
        verdict: 'held',
        version: 1,
      });
    }
  });

  it('is refused without the token of the session, and to those who only see', async () => {
    const id = await ward.sendRareWeight();
    const fields = { action: 'reject', ...reason, reading: `${id} 1` };
    expect((await ines.post('/desk/decisions', { ...fields, csrf: 'x' })).status).toBe(403);
    const odette = await visitAs(ward.gateway, ward.passwords, 'odette');
    expect((await odette.post('/desk/decisions', fields)).status).toBe(403);
    expect(await statusOf(id)).toMatchObject({ verdict: 'held', version: 1 });
  });
});

describe('what went out unconfirmed', () => {
  it('is reported with what became of it', async () => {
    const [critical] = await ward.sendDisagreement(76);
    const before = await htmlOf(ines.get('/desk/unconfirmed'));
    expect(before).toContain(critical);
    await rafe.post(`/desk/readings/${critical}/decisions`, {
      ...reason,
      action: 'release',
      expectedVersion: '1',
    });
    const html = await htmlOf(ines.get('/desk/unconfirmed'));
    const row = html.slice(html.indexOf(critical));
    expect(row.slice(0, row.indexOf('</tr>'))).toMatch(/A-212 released it at/);
    expect(await htmlOf(ines.get('/desk/unconfirmed?from=2020-01-01&to=2020-01-02'))).toContain(
      'Nothing went out unconfirmed',
    );
    expect((await ines.get('/desk/unconfirmed?from=2020-01-03&to=2020-01-02')).status).toBe(400);
  });
});

describe('events of the list', () => {
  /** Reads a stream until a text has come. */
  async function readUntil(answer: Response, wanted: RegExp): Promise<string> {
    const reader = (answer.body as ReadableStream<Uint8Array>).getReader();
    let text = '';
    while (!wanted.test(text)) {
      const { done, value } = await reader.read();
      if (done) break;
      text += Buffer.from(value).toString();
    }
    await reader.cancel();
    return text;
  }

  const follow = (visitor: Visitor, since: string): Promise<Response> =>
    fetch(`${ward.gateway.url}/desk/held/events?since=${since}`, {
      headers: { cookie: visitor.cookie, accept: 'text/event-stream' },
    });

  it('tell of a reading that is held, in numbers alone', async () => {
    const stamp = /data-stamp="(\d+)"/.exec(await htmlOf(ines.get('/desk')))?.[1] ?? '';
    const answer = await follow(ines, stamp);
    expect(answer.headers.get('content-type')).toBe('text/event-stream');
    await ward.sendDisagreement(74);
    const text = await readUntil(answer, /\n\n.*event: held/s);
    expect(text).toMatch(/event: held\nid: \d+\ndata: \{"stampMs":\d+,"counts":\{/);
    expect(text).not.toMatch(/LF-|mmHg|Aldous/);
  });

  it('tell whoever comes again what was missed', async () => {
    const answer = await follow(ines, '1');
    expect(await readUntil(answer, /event: held/)).toContain('event: held');
  });

  it.each(['1e300', '-1e300', 'now'])('come whatever a page says it knows (%s)', async (since) => {
    // Alone: it is by what this one says that the first look counts.
    const answer = await follow(ines, since);
    const rest = await follow(rafe, '1');
    expect(await readUntil(rest, /event: held/)).toContain('event: held');
    await answer.body?.cancel();
  });

  it('end with the session', async () => {
    const visitor = await visitAs(ward.gateway, ward.passwords, 'rafe');
    const answer = await follow(visitor, String(Date.now() + 60_000));
    await visitor.post('/signin/out');
    expect(await readUntil(answer, /event: session-ended/)).toContain('event: session-ended');
  });

  it('are for those who may see the list', async () => {
    const hazel = await visitAs(ward.gateway, ward.passwords, 'hazel');
    expect((await follow(hazel, '0')).status).toBe(403);
    expect((await follow({ ...hazel, cookie: '' }, '0')).status).toBe(401);
  });
});
