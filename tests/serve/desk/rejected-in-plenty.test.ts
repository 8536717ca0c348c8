/** More than anybody reads: what is too long is refused in words before its first byte, and lists stay bounded. */
import { registerPatient } from '../../setup/example-sets.js';
import { openDeskWard } from '../../setup/desk-ward.js';
import type { DeskWard } from '../../setup/desk-ward.js';
import { visitAs } from '../../setup/people.js';
import type { Visitor } from '../../setup/people.js';

let ward: DeskWard;
let analyst: Visitor;

beforeAll(async () => {
  ward = await openDeskWard();
  await registerPatient(ward.gateway, 'PL-1');
  analyst = await visitAs(ward.gateway, ward.passwords, 'ines');
  await ward.gateway.database.pool.query(
    `insert into readings (patient_key, identifier_key, effective_at, stamp, reading_id, source_key, vital,
                           verdict, version, edition, offset_minutes, amount, findings)
     select i.patient_key, i.identifier_key, now() - n * interval '1 s', now() - n * interval '1 s',
            ('00000000-0000-7000-8000-' || lpad(to_hex(n), 8, '0') || '0001')::uuid,
            (select min(source_key) from sources), 'pulse-rate', 'rejected', 1, 1, 0, 400,
            '[{"rule": "value-impossible", "verdict": "rejected", "readings": [0], "message": "No.", "advice": "", "source": ""}]'
       from patient_identifiers i, generate_series(1, 100001) n where i.value = 'PL-1'`,
  );
}, 60_000);
afterAll(() => ward.gateway.close());

describe('a hundred thousand rejected readings', () => {
  it('are counted to a limit, and come a page at a time', async () => {
    const page = await (await analyst.get('/desk/rejected')).text();
    expect(page).toContain('50 of more than 1000 rejected readings');
  });

  it('are too many for one table: nothing of it is sent', async () => {
    const answer = await analyst.post('/desk/rejected/csv');
    expect(answer.status).toBe(422);
    expect(answer.headers.get('content-type')).toContain('text/html');
    expect(await answer.text()).toContain('more than 100000 rows');
  });

  it('are counted over time as far as is looked, and the page says so', async () => {
    const page = await (await analyst.get('/desk/rejected/counts')).text();
    expect(page).toContain('only the newest 100,000');
  });

  it('come as a table where the time is narrowed', async () => {
    const from = new Date(Date.now() - 30 * 60_000).toISOString().slice(0, 16);
    const answer = await analyst.post('/desk/rejected/csv', { from });
    expect(answer.status).toBe(200);
    expect((await answer.text()).split('\r\n').length).toBeGreaterThan(1_000);
  });
});
