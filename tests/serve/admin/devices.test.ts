import { EUI64_SYSTEM, URI_SYSTEM } from '../../../src/vitals/device-identifier.js';
import { Names } from '../../../src/store/names.js';
import { openRegistryDesk, pointersOf } from './registry-desk.js';
import type { RegistryDesk } from './registry-desk.js';

let desk: RegistryDesk;
let devices = 0;

beforeAll(async () => {
  desk = await openRegistryDesk();
});
afterAll(() => desk.gateway.close());

function serial(): { system: string; value: string } {
  devices += 1;
  return { system: 'urn:example:serial', value: `SN-${devices}` };
}

async function register(more: object = {}): Promise<string> {
  const added = await desk.send('POST', '/devices', { identifier: serial(), ...more });
  if (added.status !== 201) throw new Error(added.text);
  return String(added.body.device);
}

const DEFAULTS = {
  display: null,
  type: null,
  location: null,
  signs: null,
  attended: null,
  worn: false,
  zone: null,
  timeAccuracySeconds: null,
  accuracy: {},
  disabled: false,
};

describe('registering a device', () => {
  it('keeps what is said of it, with a version and a stamp', async () => {
    const settings = {
      display: 'Oximeter 7',
      type: 'oximeter',
      location: 'larkfield/12',
      signs: ['oxygen-saturation', 'pulse-rate'],
      attended: true,
      worn: true,
      zone: 'Europe/Vienna',
      timeAccuracySeconds: 0.5,
      accuracy: { 'oxygen-saturation': { within: 2, unit: '%' } },
      disabled: false,
    };
    const identifier = serial();
    const added = await desk.send('POST', '/devices', { identifier, ...settings });
    expect(added.status).toBe(201);
    expect(added.headers.get('etag')).toBe('W/"1"');
    expect(added.body).toMatchObject({
      ...settings,
      identifier,
      version: 1,
      registeredBy: 'client 1',
      clock: null,
      association: null,
    });
    const path = `/devices/${String(added.body.device)}`;
    expect((await desk.send('GET', path)).body).toEqual(added.body);
    const { rows } = await desk.gateway.database.pool.query<{ last_stamp: Date }>(
      'select last_stamp from publication_clock',
    );
    expect(added.body.registeredAt).toBe(rows[0]?.last_stamp.toISOString());
  });

  it.each([
    [{ eui64: '001ac5fffe204b07' }, EUI64_SYSTEM, '00-1A-C5-FF-FE-20-4B-07'],
    [{ eui64: '00:1a:c5:ff:fe:20:4b:08' }, EUI64_SYSTEM, '00-1A-C5-FF-FE-20-4B-08'],
    [
      { system: EUI64_SYSTEM, value: '00-1a-c5-ff-fe-20-4b-09' },
      EUI64_SYSTEM,
      '00-1A-C5-FF-FE-20-4B-09',
    ],
    [
      { uri: 'urn:uuid:8F1B4A52-9C40-4D7E-8E21-5B0A6C3D2E10' },
      URI_SYSTEM,
      'urn:uuid:8f1b4a52-9c40-4d7e-8e21-5b0a6c3d2e10',
    ],
    [{ uri: 'https://larkfield.example/m/7' }, URI_SYSTEM, 'https://larkfield.example/m/7'],
    [{ system: 'urn:example:serial', value: 'A/7 b' }, 'urn:example:serial', 'A/7 b'],
  ])('spells %j in one way, and finds it again by it', async (identifier, system, value) => {
    const added = await desk.send('POST', '/devices', { identifier });
    expect([added.status, added.body.identifier]).toEqual([201, { system, value }]);
    const again = await desk.send('POST', '/devices', { identifier });
    expect(again.status).toBe(409);
    expect(again.body.detail).toContain(String(added.body.device));
    const asked = encodeURIComponent(`${system}|${value.toLowerCase()}`);
    const list = await desk.send('GET', `/devices?identifier=${asked}`);
    expect((list.body.devices as unknown[]).length).toBe(system === 'urn:example:serial' ? 0 : 1);
  });

  it('takes one that a set named before', async () => {
    const identifier = serial();
    const names = new Names(desk.gateway.database.pool);
    await names.learnDevices([identifier]);
    expect((await desk.send('POST', '/devices', { identifier })).status).toBe(201);
  });

  it('registers one of several that come at once', async () => {
    const identifier = serial();
    const answers = await Promise.all(
      [1, 2, 3, 4].map(() => desk.send('POST', '/devices', { identifier })),
    );
    expect(answers.map(({ status }) => status).sort()).toEqual([201, 409, 409, 409]);
  });

  it.each([
    [{}, ['/identifier']],
    [{ identifier: { eui64: '00-1A' } }, ['/identifier/eui64']],
    [{ identifier: { eui64: '00-1A-C5-FF-FE-20-4B-0\u0000' } }, ['/identifier/eui64']],
    [{ identifier: { system: EUI64_SYSTEM, value: 'monitor 7' } }, ['/identifier/value']],
    [{ identifier: { system: 'serial', value: '7' } }, ['/identifier/system']],
    [{ identifier: { system: 'urn:x:y', value: '\u0000' } }, ['/identifier/value']],
    [{ identifier: { eui64: '001ac5fffe204b07', uri: 'urn:x:y' } }, ['/identifier']],
    [{ identifier: { uri: 'urn:x:y' }, zone: 'Mars/Base' }, ['/zone']],
    [{ identifier: { uri: 'urn:x:y' }, display: 'x\u0000' }, ['/display']],
    [{ identifier: { uri: 'urn:x:y' }, location: '/a//b' }, ['/location']],
    [{ identifier: { uri: 'urn:x:y' }, signs: [] }, ['/signs']],
    [{ identifier: { uri: 'urn:x:y' }, signs: ['mood'] }, ['/signs/0']],
    [{ identifier: { uri: 'urn:x:y' }, signs: ['pulse-rate', 'pulse-rate'] }, ['/signs']],
    [{ identifier: { uri: 'urn:x:y' }, timeAccuracySeconds: -1 }, ['/timeAccuracySeconds']],
    [{ identifier: { uri: 'urn:x:y' }, timeAccuracySeconds: 1e308 }, ['/timeAccuracySeconds']],
    [
      { identifier: { uri: 'urn:x:y' }, accuracy: { 'pulse-rate': { within: 2, unit: '%' } } },
      ['/accuracy/pulse-rate/unit'],
    ],
    [
      {
        identifier: { uri: 'urn:x:y' },
        signs: ['body-weight'],
        accuracy: { 'pulse-rate': { within: 2, unit: '/min' } },
      },
      ['/accuracy/pulse-rate'],
    ],
    [
      { identifier: { uri: 'urn:x:y' }, accuracy: { 'pulse-rate': { within: 0, unit: '/min' } } },
      ['/accuracy/pulse-rate/within'],
    ],
    [
      { identifier: { uri: 'urn:x:y' }, accuracy: { mood: { within: 1, unit: '%' } } },
      ['/accuracy'],
    ],
    [{ identifier: { uri: 'urn:x:y' }, patient: 'x' }, ['']],
  ])('refuses %j and says where the fault is', async (body, pointers) => {
    const refused = await desk.send('POST', '/devices', body);
    expect([refused.status, pointersOf(refused)]).toEqual([400, pointers]);
  });
});

describe('changing a device', () => {
  it('writes a version that the one before led to, and keeps that', async () => {
    const id = await register({ display: 'Cuff', location: 'larkfield/3' });
    const changed = await desk.send('PUT', `/devices/${id}`, { expectedVersion: 1, worn: true });
    expect([changed.status, changed.body.version]).toEqual([200, 2]);
    expect(changed.body).toMatchObject({ ...DEFAULTS, worn: true });
    const same = await desk.send('PUT', `/devices/${id}`, { expectedVersion: 2, worn: true });
    expect([same.status, same.body.version]).toEqual([200, 2]);
    const stale = await desk.send('PUT', `/devices/${id}`, { expectedVersion: 1 });
    expect([stale.status, stale.body.detail]).toEqual([
      409,
      'The device has version 2 now: read it again before you change it.',
    ]);
    const { body } = await desk.send('GET', `/devices/${id}/versions`);
    const versions = body.versions as Record<string, unknown>[];
    expect(versions.map(({ version, display, worn }) => [version, display, worn])).toEqual([
      [2, null, true],
      [1, 'Cuff', false],
    ]);
    expect(String(versions[0]?.registeredAt) > String(versions[1]?.registeredAt)).toBe(true);
    expect(await desk.auditOf(`devices/${id}`)).toEqual([
      ['device-add', 201],
      ['device-change', 200],
    ]);
  });

  it('lets one of several changes of one version through', async () => {
    const id = await register();
    const answers = await Promise.all(
      ['a', 'b', 'c', 'd'].map((display) =>
        desk.send('PUT', `/devices/${id}`, { expectedVersion: 1, display }),
      ),
    );
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409, 409, 409]);
  });

  it('needs the version', async () => {
    const id = await register();
    for (const expectedVersion of [undefined, 0, '1', 40_000, 1.5]) {
      const refused = await desk.send('PUT', `/devices/${id}`, { expectedVersion });
      expect([refused.status, pointersOf(refused)]).toEqual([400, ['/expectedVersion']]);
    }
  });

  it('knows no device that is not there, nor one that nobody registered', async () => {
    const { pool } = desk.gateway.database;
    const identifier = serial();
    await new Names(pool).learnDevices([identifier]);
    const { rows } = await pool.query<{ device_id: string }>(
      'select device_id from devices where value = $1',
      [identifier.value],
    );
    const unregistered = rows[0]?.device_id ?? '';
    for (const id of [unregistered, 'absent', '%00', '0190a2c4-0000-4000-8000-000000000005']) {
      expect((await desk.send('GET', `/devices/${id}`)).status).toBe(404);
      expect((await desk.send('GET', `/devices/${id}/versions`)).status).toBe(404);
      expect((await desk.send('GET', `/devices/${id}/associations`)).status).toBe(404);
      const changed = await desk.send('PUT', `/devices/${id}`, { expectedVersion: 1 });
      expect(changed.status).toBe(404);
    }
  });
});

describe('listing devices', () => {
  it('goes through pages by a filter, and refuses what it does not know', async () => {
    const ids = [];
    for (const bed of ['page', 'page/1', 'page/2', 'page/2/a', 'pages/9']) {
      ids.push(await register({ location: bed, type: 'pager' }));
    }
    await register({ location: 'page/3', type: 'other' });
    const found: string[] = [];
    let next: string | null = '';
    let pages = 0;
    while (next !== null) {
      const cursor: string = next === '' ? '' : `&cursor=${next}`;
      const page = await desk.send('GET', `/devices?location=page/&type=pager&limit=3${cursor}`);
      found.push(...(page.body.devices as { device: string }[]).map(({ device }) => device));
      next = page.body.next as string | null;
      pages += 1;
    }
    expect([found, pages]).toEqual([ids.slice(0, 4), 2]);
    for (const query of ['colour=red', 'limit=0', 'vital=mood', 'cursor=x', 'disabled=maybe']) {
      expect([query, (await desk.send('GET', `/devices?${query}`)).status]).toEqual([query, 400]);
    }
  });

  it('finds by sign, by being disabled and by being somebody’s', async () => {
    const location = 'filters';
    const any = await register({ location });
    const cuff = await register({ location, signs: ['blood-pressure'], disabled: true });
    const ids = async (query: string): Promise<string[]> => {
      const { body } = await desk.send('GET', `/devices?location=${location}&${query}`);
      return (body.devices as { device: string }[]).map(({ device }) => device);
    };
    expect(await ids('vital=pulse-rate')).toEqual([any]);
    expect(await ids('vital=blood-pressure')).toEqual([any, cuff]);
    expect(await ids('disabled=true')).toEqual([cuff]);
    expect(await ids('associated=true')).toEqual([]);
    expect(await ids('associated=false')).toEqual([any, cuff]);
  });
});
