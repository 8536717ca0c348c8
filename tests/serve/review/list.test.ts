import type { Pool, QueryConfig } from 'pg';
import { listReviewReadings } from '../../../src/store/review-readings.js';
import {
  breaths,
  decision,
  faultsOf,
  firstOf,
  height,
  identifierOf,
  newNumber,
  openReviewDesk,
  saturation,
  weight,
} from './review-desk.js';
import type { Json, Page, ReviewDesk } from './review-desk.js';
import { auditRows } from '../../setup/audit-rows.js';

let desk: ReviewDesk;
/** Readings by what they are in this file. */
const known: Record<string, string> = {};

const DEVICE = { identifier: { system: 'urn:example:device', value: 'OX|12' } };
const criticalPressure = {
  vital: 'blood-pressure',
  method: 'oscillometry',
  site: 'upper-arm',
  side: 'left',
  systolic: 264,
  diastolic: 118,
  unit: 'mm[Hg]',
};

beforeAll(async () => {
  desk = await openReviewDesk();
  const at = (location: string): Json => ({ location });
  const unknown = { patient: { identifier: identifierOf(newNumber()) } };
  known.accepted = firstOf(await desk.send([breaths(16)], at('larkfield/1')));
  known.waiting = firstOf(await desk.send([height(236)], at('larkfield/1')));
  known.waitingLater = firstOf(await desk.send([weight(262)], at('larkfield/12')));
  known.unit = firstOf(
    await desk.send(
      [{ ...criticalPressure, systolic: 16, diastolic: 10 }],
      at('larkfield-annexe/1'),
    ),
  );
  known.identity = firstOf(await desk.send([breaths(17)], unknown));
  known.criticalIdentity = firstOf(await desk.send([saturation(81)], unknown));
  known.out = firstOf(await desk.send([criticalPressure], at('larkfield')));
  known.rejected = firstOf(
    await desk.sendFrom(desk.monitorToken, [saturation(104, { device: DEVICE })], {
      takenAt: '2026-02-03T04:05:06+02:00',
    }),
  );
  known.released = firstOf(await desk.send([height(237)]));
  await desk.decide(known.released, decision('release', 1));
  known.discarded = firstOf(await desk.send([height(238)]));
  await desk.decide(known.discarded, decision('reject', 1));
});
afterAll(() => desk.gateway.close());

const namesOf = ({ readings }: Page): string[] =>
  readings.map(
    ({ reading }) => Object.keys(known).find((name) => known[name] === reading) ?? reading,
  );

async function found(query: string): Promise<string[]> {
  const { status, body, text } = await desk.list(query);
  if (status !== 200) throw new Error(text);
  return namesOf(body);
}

describe('the list of readings in review', () => {
  it.each<[query: string, names: string[]]>([
    // Critical first, unpublished before published, then the earliest due: an identity hold, which
    // nothing will ever send out, is due since it is held; then 15 minutes; then an hour. What a wrong
    // unit makes of a number is critical as a rule.
    ['verdict=held', ['criticalIdentity', 'unit', 'out', 'identity', 'waiting', 'waitingLater']],
    ['state=waiting', ['criticalIdentity', 'unit', 'identity', 'waiting', 'waitingLater']],
    ['state=out', ['out']],
    ['state=rejected', ['rejected']],
    ['state=decided', ['discarded', 'released']],
    [
      'sort=newest&state=waiting',
      ['criticalIdentity', 'identity', 'unit', 'waitingLater', 'waiting'],
    ],
    [
      '',
      [
        'discarded',
        'rejected',
        'out',
        'criticalIdentity',
        'identity',
        'unit',
        'waitingLater',
        'waiting',
      ],
    ],
    ['verdict=accepted,noted', ['released', 'accepted']],
    ['verdict=accepted&verdict=noted', ['released', 'accepted']],
    ['verdict=rejected', ['discarded', 'rejected']],
    ['state=decided&verdict=rejected', ['discarded']],
    ['state=waiting&critical=true', ['criticalIdentity', 'unit']],
    ['verdict=held&critical=false', ['identity', 'waiting', 'waitingLater']],
    ['rule=patient-unknown', ['criticalIdentity', 'identity']],
    ['rule=value-impossible', ['rejected']],
    ['rule=value', []],
    ['source=corridor monitors', ['rejected']],
    ['source=nobody', []],
    ['state=waiting&location=larkfield', ['waiting', 'waitingLater']],
    ['location=larkfield/1', ['waiting']],
    ['location=larkfield/1/', ['waiting']],
    ['location=larkfield_', []],
    ['device=urn:example:device|OX|12', ['rejected']],
    ['device=urn:example:device|OX', []],
    ['vital=body-weight', ['waitingLater']],
    ['state=waiting&vital=body-weight,body-height', ['waiting', 'waitingLater']],
    ['takenFrom=2026-02-03T02:05:06Z&takenTo=2026-02-03T02:05:07Z', ['rejected']],
    ['takenTo=2026-02-03T04:05:06%2B02:00', []],
    ['changedTo=2026-02-03T04:05:06Z', []],
  ])('?%s', async (query, names) => {
    expect(await found(query)).toEqual(names);
  });

  it('shows each reading in the published form, with all that a decision needs', async () => {
    const { body } = await desk.list('verdict=held,rejected,accepted');
    for (const one of body.readings) {
      expect(faultsOf('review-reading:1#/$defs/reading', one)).toEqual([]);
    }
    const rejected = body.readings.find(({ reading }) => reading === known.rejected);
    expect(rejected).toMatchObject({
      value: 104,
      unit: '%',
      method: 'pulse-oximetry',
      device: DEVICE.identifier,
      takenAt: '2026-02-03T04:05:06+02:00',
      source: 'corridor monitors',
      patient: { name: 'Wren Aldous', birthDate: '1967-03-21', registered: true },
      findings: [{ rule: 'value-impossible', message: expect.any(String) as string }],
    });
    expect(rejected).not.toHaveProperty('observation');
    const out = body.readings.find(({ reading }) => reading === known.out);
    expect(out).toMatchObject({ observation: `Observation/${known.out}`, status: 'preliminary' });
  });

  it('counts what it finds, on the first page', async () => {
    const whole = await desk.list('state=waiting');
    expect(whole.body).toMatchObject({ total: { count: 5, exact: true }, next: null });
    const page = await desk.list('state=waiting&limit=2');
    expect(page.body.total).toEqual({ count: 5, exact: true });
    const next = await desk.list(`state=waiting&limit=2&cursor=${page.body.next}`);
    expect(next.body).not.toHaveProperty('total');
  });

  it('writes down who saw which readings, and no more', async () => {
    const { body, headers } = await desk.list('state=waiting&limit=2');
    const rows = await auditRows(desk.gateway.database.pool, 'request_id = $1', [
      headers.get('x-request-id'),
    ]);
    expect(rows).toEqual([
      expect.objectContaining({
        action: 'review-list',
        outcome: 200,
        entity: 'review/readings',
        detail: {
          readings: body.readings.map(({ reading }) => reading),
          query: [
            ['state', expect.any(String)],
            ['limit', expect.any(String)],
          ],
        },
        client_key: expect.any(Number) as number,
      }),
    ]);
  });
});

describe('a page', () => {
  const walk = async (query: string, between?: () => Promise<unknown>): Promise<string[]> => {
    const seen: string[] = [];
    let cursor = '';
    for (;;) {
      const { body } = await desk.list(`${query}${cursor}`);
      seen.push(...namesOf(body));
      if (body.next === null) return seen;
      cursor = `&cursor=${body.next}`;
      await between?.();
    }
  };

  it.each(['verdict=held', '', 'state=decided', 'state=waiting&sort=newest'])(
    'after page meets every reading once, in order: ?%s',
    async (query) => {
      expect(await walk(`${query}&limit=1`)).toEqual(await found(query));
    },
  );

  it('is not shifted by what arrives meanwhile', async () => {
    const before = await found('');
    const arriving: string[] = [];
    const walked = await walk('limit=3', async () => {
      const id = firstOf(await desk.send([saturation(105)]));
      arriving.push(id);
    });
    expect(walked).toEqual(before);
    expect(arriving.length).toBeGreaterThan(1);
    expect((await found('')).slice(0, arriving.length)).toEqual(arriving.reverse());
  });

  it('belongs to its search', async () => {
    const { body } = await desk.list('state=waiting&limit=1');
    for (const other of ['state=out', 'state=waiting&sort=newest', 'state=waiting&critical=true']) {
      const answer = await desk.list(`${other}&cursor=${body.next}`);
      expect([other, answer.status]).toEqual([other, 400]);
    }
    for (const cursor of ['x', 'bnVsbA', 'W10', `${body.next}x`]) {
      expect((await desk.list(`state=waiting&cursor=${cursor}`)).status).toBe(400);
    }
    // Size is no part of the search.
    expect((await desk.list(`state=waiting&limit=2&cursor=${body.next}`)).status).toBe(200);
  });
});

describe('a search that cannot be meant', () => {
  it.each([
    ['stat=waiting', 'There is no parameter stat.'],
    ['state=held', 'state must be one of waiting, out, decided, rejected.'],
    ['state=waiting&state=out', 'state must be one of waiting, out, decided, rejected.'],
    ['verdict=held,maybe', 'verdict must be one of accepted, noted, held, rejected'],
    ['verdict=', 'verdict must be one of'],
    ['vital=pulse', 'vital must be one of respiratory-rate'],
    ['critical=yes', 'critical must be true or false.'],
    ['limit=201', 'limit must be a whole number from 1 to 200.'],
    ['limit=0', 'limit must be a whole number from 1 to 200.'],
    ['limit=1e1', 'limit must be a whole number from 1 to 200.'],
    ['takenFrom=2026-02-30T00:00:00Z', 'takenFrom must be an RFC 3339 time'],
    ['takenFrom=2026-02-03', 'takenFrom must be an RFC 3339 time'],
    ['takenFrom=2026-02-03T04:05:06+02:00', 'has lost the + of its offset'],
    [
      'takenFrom=2026-02-03T04:05:06Z&takenTo=2026-02-03T04:05:06Z',
      'takenTo must be after takenFrom.',
    ],
    ['device=OX-12', 'device must be system|value.'],
    ['source=', 'source must not be empty.'],
    ['source=a&source=b', 'source must be given once.'],
    ['rule=%00', 'rule must not have control characters.'],
    [`location=${'a'.repeat(301)}`, 'location must not be longer than 300 characters.'],
    ['sort=urgency', 'sort by urgency orders held readings only'],
    ['sort=urgency&state=decided', 'sort by urgency orders held readings only'],
    ['state=waiting&verdict=rejected', 'verdict is none that a reading in this state can have.'],
  ])('?%s', async (query, sentence) => {
    const answer = await desk.list(query);
    expect(answer.status).toBe(400);
    expect(answer.headers.get('content-type')).toBe('application/problem+json');
    expect(answer.body).toMatchObject({ detail: expect.stringContaining(sentence) as string });
  });

  it('says all that is wrong with it', async () => {
    const { body } = await desk.list('limit=x&critical=x');
    expect(body).toMatchObject({
      detail: 'critical must be true or false. limit must be a whole number from 1 to 200.',
    });
  });
});

describe('a search for a patient', () => {
  const search = (body: unknown) => desk.ask<Page>('/review/readings/_search', body);

  it('is sent as a body, with the other filters', async () => {
    const { number, birthDate } = await desk.patient();
    const identifier = identifierOf(number);
    const own = await desk.send([height(233), saturation(103), breaths(15)], {
      patient: { identifier, birthDate },
    });
    const ids = own.readings.map(({ reading }) => reading);
    const concern = await search({ patient: identifier });
    expect(concern.body.readings.map(({ reading }) => reading).sort()).toEqual(ids.slice(0, 2));
    const all = await search({ patient: identifier, verdict: ['accepted', 'held', 'rejected'] });
    expect(all.body.total).toEqual({ count: 3, exact: true });
    const held = await search({ patient: identifier, state: 'waiting', critical: false, limit: 5 });
    expect(held.body.readings.map(({ reading }) => reading)).toEqual(ids.slice(0, 1));
    const nobody = await search({ patient: identifierOf('LF-none') });
    expect(nobody.body).toEqual({ readings: [], total: { count: 0, exact: true }, next: null });
  });

  it('goes on by its cursor, which does not fit another patient', async () => {
    const { number, birthDate } = await desk.patient();
    const patient = identifierOf(number);
    await desk.send([height(234), weight(263)], { patient: { identifier: patient, birthDate } });
    const first = await search({ patient, limit: 1 });
    const second = await search({ patient, limit: 1, cursor: first.body.next });
    expect(second.body.readings).toHaveLength(1);
    expect(second.body.readings[0]?.reading).not.toBe(first.body.readings[0]?.reading);
    expect(second.body.next).toBeNull();
    const other = await search({ patient: identifierOf('LF-1'), cursor: first.body.next });
    expect(other.status).toBe(400);
  });

  it('points at what is wrong with the body', async () => {
    const answer = await search({ patient: { system: 'urn:example:mrn' }, limit: 'many' });
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({
      errors: [
        { pointer: '/limit', message: 'must be a whole number from 1 to 200' },
        { pointer: '/patient', message: 'must be system|value' },
      ],
    });
    expect((await search('{')).status).toBe(400);
  });

  it('is refused in an address', async () => {
    const { number } = await desk.patient();
    const answer = await desk.list(`patient=urn:example:mrn|${number}`);
    expect(answer.status).toBe(400);
    expect(answer.text).toContain('/review/readings/_search');
    expect(answer.text).not.toContain(number);
  });
});

describe('the database', () => {
  /** The plan of the list's own statement when rows are read in order or not at all. */
  async function planOf(query: Parameters<typeof listReviewReadings>[1]): Promise<string> {
    const { pool } = desk.gateway.database;
    let statement: QueryConfig | undefined;
    const listening = {
      query: (text: string, values: unknown[]) => {
        statement ??= { text, values };
        return Promise.resolve({ rows: [] });
      },
    } as unknown as Pool;
    await listReviewReadings(
      listening,
      query,
      { rank: 1, atMs: 0, id: String(known.out) },
      { page: 50, count: 0 },
    );
    const client = await pool.connect();
    try {
      await client.query(
        'set enable_seqscan = off; set enable_sort = off; set enable_bitmapscan = off',
      );
      const { rows } = await client.query<{ 'QUERY PLAN': string }>({
        text: `explain ${statement?.text ?? ''}`,
        values: statement?.values ?? [],
      });
      return rows.map((row) => row['QUERY PLAN']).join('\n');
    } finally {
      client.release(true);
    }
  }
  const anyTime = { taken: { fromMs: null, toMs: null }, changed: { fromMs: null, toMs: null } };

  it.each([
    ['readings_by_urgency', { verdicts: ['held'], sort: 'urgency' }],
    ['readings_by_urgency', { verdicts: ['held'], state: 'waiting', sort: 'urgency' }],
    ['readings_of_concern', { verdicts: ['held', 'rejected'], sort: 'newest' }],
    ['readings_rejected', { verdicts: ['rejected'], state: 'rejected', sort: 'newest' }],
    ['readings_by_stamp', { verdicts: ['accepted'], sort: 'newest' }],
    ['decisions_by_time', { verdicts: ['accepted'], state: 'decided', sort: 'newest' }],
  ] as const)('has an index in the order of the list: %s for %j', async (index, search) => {
    const plan = await planOf({ ...anyTime, ...search });
    expect(plan).toContain(`using ${index}`);
    expect(plan).not.toMatch(/-> +Sort +\(/);
  });
});

describe('many readings', () => {
  it('are counted up to a limit that is told, and paged through to the end', async () => {
    const { pool } = desk.gateway.database;
    const copied = 1_005;
    await pool.query(
      `insert into readings (patient_key, identifier_key, effective_at, stamp, reading_id, source_key,
                             vital, verdict, version, edition, offset_minutes, amount)
       select patient_key, identifier_key, effective_at, stamp - n * interval '1 ms', gen_random_uuid(),
              source_key, 'body-height', verdict, 1, edition, offset_minutes, 300
         from readings, generate_series(1, $2) n where reading_id = $1`,
      [known.rejected, copied],
    );
    const query = 'state=rejected&vital=body-height&limit=200';
    const first = await desk.list(query);
    expect(first.body.total).toEqual({ count: 1_000, exact: false });
    const seen = new Set<string>();
    for (let { body } = first; ;) {
      for (const { reading } of body.readings) seen.add(reading);
      if (body.next === null) break;
      body = (await desk.list(`${query}&cursor=${body.next}`)).body;
    }
    expect(seen.size).toBe(copied);
  });
});
