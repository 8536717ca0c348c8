import { MRN, registerPatient } from '../../setup/example-sets.js';
import { openRegistryDesk, pointersOf } from './registry-desk.js';
import type { RegistryDesk } from './registry-desk.js';

let desk: RegistryDesk;
let devices = 0;

beforeAll(async () => {
  desk = await openRegistryDesk();
  for (const number of ['LF-31', 'LF-32']) await registerPatient(desk.gateway, number);
});
afterAll(() => desk.gateway.close());

async function monitor(more: object = {}): Promise<string> {
  devices += 1;
  const identifier = { system: 'urn:example:serial', value: `M-${devices}` };
  const added = await desk.send('POST', '/devices', { identifier, ...more });
  return String(added.body.device);
}

const patient = (number: string, more: object = { birthDate: '1967-03-21' }): object => ({
  identifier: { system: MRN, value: number },
  ...more,
});
const make = (device: string, number: string, from: string) =>
  desk.send('POST', `/devices/${device}/associations`, { patient: patient(number), from });
const end = (device: string, association: unknown, at: string) =>
  desk.send('POST', `/devices/${device}/associations/${String(association)}/end`, { at });

describe('whose a device is', () => {
  it('is told, shown with the device, and ended', async () => {
    const device = await monitor();
    const made = await make(device, 'LF-31', '2026-05-04T09:00:00+02:00');
    expect(made.status).toBe(201);
    expect(made.body).toMatchObject({
      device,
      patient: { identifier: { system: MRN, value: 'LF-31' } },
      from: '2026-05-04T07:00:00.000Z',
      to: null,
      origin: 'admin',
      endedBy: null,
      recordedBy: 'client 1',
    });
    const { association } = made.body;
    expect((await desk.send('GET', `/devices/${device}`)).body.association).toBe(association);
    const again = await make(device, 'LF-31', '2026-05-04T10:00:00+02:00');
    expect([again.status, again.body]).toEqual([200, made.body]);

    const ended = await end(device, association, '2026-05-04T12:00:00+02:00');
    expect([ended.status, ended.body.to, ended.body.endedBy]).toEqual([
      200,
      '2026-05-04T10:00:00.000Z',
      'admin',
    ]);
    expect((await desk.send('GET', `/devices/${device}`)).body.association).toBeNull();
    expect(await desk.auditOf(`devices/${device}/associations/${String(association)}`)).toEqual([
      ['device-associate', 200],
      ['device-disassociate', 200],
    ]);
    const { rows } = await desk.gateway.database.pool.query('select * from audit');
    expect(JSON.stringify(rows)).not.toContain('LF-31');
  });

  it('is from now on, and until now, where no time is named', async () => {
    const device = await monitor();
    const path = `/devices/${device}/associations`;
    const before = Date.now();
    const made = await desk.send('POST', path, {
      patient: patient('LF-31', { familyName: 'aldous' }),
    });
    expect(Date.parse(String(made.body.from))).toBeGreaterThanOrEqual(before);
    const ended = await desk.send('POST', `${path}/${String(made.body.association)}/end`, {});
    expect(Date.parse(String(ended.body.to))).toBeGreaterThanOrEqual(before);
  });

  it('passes to the next patient, and says why it cannot', async () => {
    const device = await monitor();
    const first = await make(device, 'LF-31', '2026-05-04T09:00:00Z');
    expect((await make(device, 'LF-32', '2026-05-04T11:00:00Z')).status).toBe(201);
    const taken = await make(device, 'LF-32', '2026-05-04T10:00:00Z');
    expect(taken.status).toBe(409);
    expect(taken.body.detail).toContain(String(first.body.association));
    expect(taken.text).not.toContain('LF-31');
    const { association } = first.body;
    expect((await end(device, association, '2026-05-04T12:00:00Z')).status).toBe(409);
    expect((await end(device, association, '2026-05-04T08:00:00Z')).status).toBe(409);
    // Moved back to where it ended in truth, it leaves room.
    expect((await end(device, association, '2026-05-04T10:00:00Z')).status).toBe(200);
    expect((await make(device, 'LF-32', '2026-05-04T10:00:00Z')).status).toBe(201);
  });

  it('asks for a registered patient with a second identifier that agrees', async () => {
    const device = await monitor();
    const path = `/devices/${device}/associations`;
    const outcome = async (body: object): Promise<unknown> => {
      const answer = await desk.send('POST', path, body);
      return [answer.status, ...pointersOf(answer)];
    };
    expect(await outcome({ patient: patient('LF-404') })).toEqual([422]);
    expect(await outcome({ patient: patient('LF-31', { birthDate: '1967-03-22' }) })).toEqual([
      422,
    ]);
    expect(await outcome({ patient: patient('LF-31', { familyName: 'Reed' }) })).toEqual([422]);
    expect(await outcome({ patient: patient('LF-31', {}) })).toEqual([400, '/patient']);
    expect(await outcome({})).toEqual([400, '/patient']);
    expect(await outcome({ patient: patient('LF-31', { birthDate: '1967-02-30' }) })).toEqual([
      400,
      '/patient/birthDate',
    ]);
    expect(await outcome({ patient: patient('LF-31\u0000') })).toEqual([
      400,
      '/patient/identifier/value',
    ]);
    const withFrom = (from: string) => outcome({ patient: patient('LF-31'), from });
    expect(await withFrom('2026-05-04T09:00:00')).toEqual([400, '/from']);
    expect(await withFrom('2026-05-04T09:00:00.5+99:00')).toEqual([400, '/from']);
    expect(await withFrom(new Date(Date.now() + 3_600_000).toISOString())).toEqual([400, '/from']);
    expect((await desk.send('GET', `/devices/${device}`)).body.association).toBeNull();
  });

  it('is nobody’s new one while the device is disabled', async () => {
    const device = await monitor({ disabled: true });
    expect((await make(device, 'LF-31', '2026-05-04T09:00:00Z')).status).toBe(409);
  });

  it('knows no device and no association that is not there', async () => {
    const absent = '0190a2c4-0000-4000-8000-000000000005';
    const [one, two] = [await monitor(), await monitor()];
    const { association } = (await make(one, 'LF-31', '2026-05-04T09:00:00Z')).body;
    const at = '2026-05-04T10:00:00Z';
    for (const id of [absent, 'absent', '%00']) {
      expect((await make(id, 'LF-31', at)).status).toBe(404);
      expect((await end(one, id, at)).status).toBe(404);
      expect((await end(id, association, at)).status).toBe(404);
    }
    // One of another device is none of this one.
    expect((await end(two, association, at)).status).toBe(404);
  });
});

describe('lists of associations', () => {
  it('go by device and by patient, page by page, and name no patient in an address', async () => {
    await registerPatient(desk.gateway, 'LF-33');
    const [one, two] = [await monitor(), await monitor()];
    const made: unknown[] = [];
    for (const [device, number, hour] of [
      [one, 'LF-33', '01'],
      [one, 'LF-31', '02'],
      [one, 'LF-33', '03'],
      [two, 'LF-33', '04'],
    ] as const) {
      made.push((await make(device, number, `2026-06-04T${hour}:00:00Z`)).body.association);
    }
    const ids = ({ associations }: Record<string, unknown>): unknown[] =>
      (associations as { association: string }[]).map(({ association }) => association);

    const first = await desk.send('GET', `/devices/${one}/associations?limit=2`);
    expect(ids(first.body)).toEqual([made[2], made[1]]);
    const cursor = String(first.body.next);
    const rest = await desk.send('GET', `/devices/${one}/associations?limit=2&cursor=${cursor}`);
    expect([ids(rest.body), rest.body.next]).toEqual([[made[0]], null]);
    const other = await desk.send('GET', `/devices/${two}/associations?cursor=${cursor}`);
    expect(other.status).toBe(400);
    const open = await desk.send('GET', `/devices/${one}/associations?open=true`);
    expect(ids(open.body)).toEqual([made[2]]);

    const search = (body: object) => desk.send('POST', '/associations/_search', body);
    const asked = { system: MRN, value: 'LF-33' };
    expect(ids((await search({ patient: asked })).body)).toEqual([made[3], made[2], made[0]]);
    expect(ids((await search({ patient: asked, open: false })).body)).toEqual([made[0]]);
    const page = await search({ patient: asked, limit: 1 });
    const next = await search({ patient: asked, limit: 1, cursor: page.body.next });
    expect(ids(next.body)).toEqual([made[2]]);
    expect(ids((await search({ patient: { system: MRN, value: 'LF-404' } })).body)).toEqual([]);
    expect((await search({ patient: { system: MRN, value: '\u0000' } })).status).toBe(400);
    expect((await search({})).status).toBe(400);
  });
});
