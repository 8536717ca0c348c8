import type { Pool } from 'pg';
import { listObservationEvents } from '../../src/store/observation-history.js';
import type { ObservationCondition } from '../../src/store/observation-conditions.js';
import { findReadingOrigins } from '../../src/store/reading-origins.js';
import {
  countHeldReadings,
  findObservations,
  readSearchMoment,
} from '../../src/store/search-observations.js';
import type { ObservationPage } from '../../src/store/search-observations.js';
import { SHOWN } from '../../src/store/shown-observations.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

const READINGS = 40_000;
const PATIENTS = 200;
const ID = '0197f3c0-0000-7000-8000-000000000001';
const PANEL_ID = '0197f3c0-0000-7000-8000-00000000ffff';
const asOfMs = Date.parse('2026-03-01T00:00:00Z');

let database: TestDatabase;
beforeAll(async () => {
  database = await openTestDatabase();
  const { pool } = database;
  await pool.query("insert into sources (name, attended) values ('ward', true)");
  await pool.query(
    'insert into patients (patient_id) select gen_random_uuid() from generate_series(1, $1)',
    [PATIENTS],
  );
  await pool.query(
    `insert into patient_identifiers (system, value, patient_key)
     select 'urn:example:mrn', 'P' || patient_key, patient_key from patients`,
  );
  await pool.query(
    `insert into readings (patient_key, identifier_key, effective_at, stamp, reading_id, source_key,
       vital, verdict, hold, status, version, edition, offset_minutes, amount, derived)
     select 1 + g % $2, 1 + g % $2, taken, taken, gen_random_uuid(), 1, 'pulse-rate',
            (case when g % 100 = 0 then 'held' else 'accepted' end)::verdict,
            case when g % 100 = 0 then 'value'::hold_kind end,
            case when g % 100 <> 0 then 'final'::observation_status end, 1, 1, 0, 70,
            case when g % 8 = 0 and g < 8000 then '{"pulse-pressure": "40", "mean-pressure": "93"}'::jsonb end
       from (select g, $3::timestamptz - g * interval '1 minute' as taken
               from generate_series(1, $1) as g) as made`,
    [READINGS, PATIENTS, new Date(asOfMs)],
  );
  await pool.query(
    `insert into panels (patient_key, identifier_key, effective_at, stamp, panel_id, source_key, status,
       version, edition, offset_minutes, members)
     select patient_key, identifier_key, effective_at, stamp, gen_random_uuid(), 1, 'final', 1, 1, 0,
            array[reading_id, gen_random_uuid()]
       from readings where status is not null limit 8000`,
  );
  await pool.query('analyze');
});
afterAll(() => database.close());

const SEQ_SCAN = /Seq Scan on (readings|panels)/;

/** The plan of the one statement that a query of the store sends. */
async function planOf(ask: (pool: Pool) => Promise<unknown>): Promise<string> {
  let sent: [string, unknown[]] = ['', []];
  const spy = {
    query: (text: string, values: unknown[]) => {
      sent = [text, values];
      return Promise.resolve({ rows: [] });
    },
  };
  await ask(spy as unknown as Pool);
  const { rows } = await database.pool.query<{ 'QUERY PLAN': string }>(
    `explain (costs off) ${sent[0]}`,
    sent[1],
  );
  return rows.map((row) => row['QUERY PLAN']).join('\n');
}

function search(
  conditions: readonly ObservationCondition[],
  rest: Partial<ObservationPage>,
): Promise<string> {
  const sort = [{ by: 'stamp', descending: false }] as const;
  return planOf((pool) =>
    findObservations(pool, {
      conditions,
      asOfMs,
      shown: ['reading'],
      sort,
      after: null,
      limit: 51,
      ...rest,
    }),
  );
}

const patient: ObservationCondition = { on: 'patient', ids: [ID] };
const lastDay: ObservationCondition = {
  on: 'taken',
  ranges: [{ fromMs: asOfMs - 86_400_000, toMs: null }],
};

describe('searches go by an index', () => {
  it('of the patient and the time taken, for a chart', async () => {
    for (const descending of [false, true]) {
      const plan = await search([patient, lastDay], { sort: [{ by: 'taken', descending }] });
      expect(plan).toMatch(/readings_pkey[^]*Index Cond: .*patient_key = .*effective_at >= /);
      expect(plan).not.toMatch(SEQ_SCAN);
    }
  });

  it('of the stamp, page after page, for a feed', async () => {
    const newest: ObservationCondition = {
      on: 'stamp',
      ranges: [{ fromMs: asOfMs - 600_000, toMs: null }],
    };
    const after = { keysMs: [asOfMs - 300_000], id: ID };
    for (const plan of [
      await search([newest], {}),
      await search([], { after }),
      await planOf((pool) =>
        listObservationEvents(pool, { id: null, sinceMs: null, after: null, limit: 51 }),
      ),
    ]) {
      expect(plan).toContain('using readings_by_stamp on readings r');
      expect(plan).not.toMatch(SEQ_SCAN);
    }
  });

  it('of the id, for ids, identifiers and one history', async () => {
    for (const plan of [
      await search([{ on: 'id', ids: [ID] }], {}),
      await search(
        [
          {
            on: 'place-in-set',
            places: [{ setId: ID, index: 0 }],
            named: [{ system: 'urn:example:sent', value: 'one' }],
          },
        ],
        {},
      ),
      await planOf((pool) =>
        listObservationEvents(pool, { id: ID, sinceMs: null, after: null, limit: 51 }),
      ),
    ]) {
      expect(plan).toContain('readings_by_id');
      expect(plan).not.toMatch(SEQ_SCAN);
    }
  });

  it('of the stamp, for what was calculated, however little of it there is', async () => {
    const kind: ObservationCondition = { on: 'kind', kinds: [{ derived: 'mean-pressure' }] };
    const after = { keysMs: [asOfMs - 300_000], id: ID };
    for (const plan of [
      await search([kind], { shown: SHOWN }),
      await search([kind], { shown: SHOWN, after }),
    ]) {
      expect(plan).toContain('using readings_with_derived on readings r');
      expect(plan).not.toMatch(SEQ_SCAN);
    }
    for (const descending of [false, true]) {
      const sort = [{ by: 'taken', descending }] as const;
      const plan = await search([patient, lastDay], { shown: SHOWN, sort });
      expect(plan.match(/Index Cond: .*patient_key = .*effective_at >= /g)).toHaveLength(4);
      expect(plan).not.toMatch(SEQ_SCAN);
    }
    const all = await search([], { shown: SHOWN, after });
    expect(all).toContain('using readings_by_stamp on readings r');
    expect(all).not.toMatch(SEQ_SCAN);
  });

  it('and look for nothing that was calculated where no edition asked for it', async () => {
    expect(await search([patient], {})).not.toContain('derived');
    const { shown } = await readSearchMoment(database.pool);
    expect(shown).toEqual(['reading', 'panel']);
  });

  it('of the patient, the stamp, the id and a member, for panels', async () => {
    const shown = ['reading', 'panel'] as const;
    const after = { keysMs: [asOfMs - 300_000], id: ID };
    const panels: ObservationCondition = { on: 'kind', kinds: [{ panel: true }] };
    const member: ObservationCondition = { on: 'has-member', ids: [ID] };
    const plans = [
      [await search([patient, lastDay], { shown }), 'panels_pkey'],
      [await search([], { shown, after }), 'panels_by_stamp'],
      [await search([panels], { shown, after }), 'panels_by_stamp'],
      [await search([{ on: 'id', ids: [PANEL_ID] }], { shown }), 'panels_by_id'],
      [await search([member], { shown }), 'panels_by_id'],
    ] as const;
    for (const [plan, index] of plans) {
      expect(plan).toContain(index);
      expect(plan).not.toMatch(SEQ_SCAN);
    }
  });

  it('and look at no panel for one sign, and at no reading for panels', async () => {
    const shown = ['reading', 'panel'] as const;
    const kinds = [{ vital: 'pulse-rate', methods: null, sites: null, part: null }] as const;
    const newest = { shown, limit: 1, sort: [{ by: 'taken', descending: true }] } as const;
    const pulse = await search([patient, { on: 'kind', kinds }], newest);
    expect(pulse).toContain('readings_pkey');
    expect(pulse).not.toContain('panels');
    const panel = await search([patient, { on: 'kind', kinds: [{ panel: true }] }], newest);
    expect(panel).not.toContain('readings');
  });

  it('of what is held, for the number that is held back', async () => {
    const heldPlan = (conditions: readonly ObservationCondition[]): Promise<string> =>
      planOf((pool) => countHeldReadings(pool, { conditions, asOfMs: Date.now() }));
    expect(await heldPlan([])).toContain('readings_held');
    expect(await heldPlan([patient])).not.toMatch(SEQ_SCAN);
  });
});

it('finds how versions came to be by the ids of their readings', async () => {
  const targets = [{ type: 'Observation' as const, id: ID, version: null }];
  const page = { conditions: [{ on: 'target' as const, targets }], descending: false, after: null };
  const plan = await planOf((pool) =>
    findReadingOrigins(pool, { ...page, limit: 50, visible: [] }),
  );
  expect(plan).not.toMatch(SEQ_SCAN);
});
