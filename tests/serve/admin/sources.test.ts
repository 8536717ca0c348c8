import { X509Certificate } from 'node:crypto';
import { addClient } from '../../../src/store/clients.js';
import { registerPatient, oxygen, setOf } from '../../setup/example-sets.js';
import { basic, until } from '../http/start-app.js';
import { CERTIFICATE, KEY } from '../http/test-certificate.js';
import { openRegistryDesk, pointersOf } from './registry-desk.js';
import type { RegistryDesk } from './registry-desk.js';

let desk: RegistryDesk;
let sources = 0;

beforeAll(async () => {
  desk = await openRegistryDesk();
});
afterAll(() => desk.gateway.close());

function settings(more: object = {}): Record<string, unknown> {
  sources += 1;
  return { name: `monitors ${sources}`, attended: false, ...more };
}

describe('/admin/sources', () => {
  it('registers, reads and changes a source', async () => {
    const whole = settings({
      secondIdentifierRequired: true,
      zone: 'Europe/Vienna',
      synchronised: true,
      peer: { application: 'MON_GW', facility: 'LARKFIELD' },
      certificate: { sha256: 'AB:'.repeat(31) + 'CD' },
      defaultAuthority: 'urn:example:mrn',
      authorities: { 'WARD & CO': 'urn:example:mrn' },
    });
    const added = await desk.send('POST', '/sources', whole);
    expect(added.status).toBe(201);
    expect(added.body).toMatchObject({
      ...whole,
      certificate: { sha256: 'ab'.repeat(31) + 'cd' },
      builtIn: false,
      disabledAt: null,
      health: { lastHeard: null, clockAheadSeconds: null, lastDay: { held: 0 } },
    });
    const id = String(added.body.source);
    expect((await desk.send('GET', `/sources/${id}`)).body).toEqual(added.body);

    const bare = { name: `${String(whole.name)} again`, attended: true };
    const changed = await desk.send('PUT', `/sources/${id}`, bare);
    expect(changed.status).toBe(200);
    expect(changed.body).toMatchObject({
      ...bare,
      source: id,
      secondIdentifierRequired: false,
      zone: null,
      synchronised: false,
      peer: null,
      certificate: null,
      defaultAuthority: null,
      authorities: {},
    });
    expect(await desk.auditOf(`sources/${id}`)).toEqual([
      ['source-add', 201],
      ['source-change', 200],
    ]);
    const { rows } = await desk.gateway.database.pool.query(
      "select detail from audit where action = 'source-change' and entity = $1",
      [`sources/${id}`],
    );
    expect(JSON.stringify(rows)).toContain('"defaultAuthority"');
    expect(JSON.stringify(rows)).not.toContain('urn:example:mrn');
    const list = await desk.send('GET', '/sources');
    expect(list.body.sources).toContainEqual(changed.body);
  });

  it('takes the fingerprint of a certificate itself, and of nothing else', async () => {
    const certificate = { pem: CERTIFICATE };
    const added = await desk.send('POST', '/sources', settings({ certificate }));
    expect(added.body.certificate).toEqual({
      sha256: new X509Certificate(CERTIFICATE).fingerprint256.replaceAll(':', '').toLowerCase(),
    });
    for (const pem of [KEY, 'x'.repeat(20_000)]) {
      const refused = await desk.send('POST', '/sources', settings({ certificate: { pem } }));
      expect([refused.status, pointersOf(refused)]).toEqual([400, ['/certificate/pem']]);
      expect(refused.text).not.toMatch(/PRIVATE|xxx/);
    }
  });

  it('names every conflict with another source', async () => {
    const peer = { application: 'ENGINE', facility: null };
    const certificate = { sha256: '11'.repeat(32) };
    const first = await desk.send('POST', '/sources', settings({ peer, certificate }));
    const other = { application: 'ENGINE', facility: 'EAST' };
    const second = await desk.send('POST', '/sources', settings({ peer: other }));
    expect([first.status, second.status]).toEqual([201, 201]);

    const name = String(second.body.name);
    const refused = await desk.send('POST', '/sources', settings({ name, peer, certificate }));
    expect(refused.status).toBe(409);
    expect(refused.body.errors).toEqual([
      { pointer: '/peer', message: expect.stringContaining(String(first.body.name)) as string },
      { pointer: '/certificate', message: expect.any(String) as string },
      { pointer: '/name', message: 'is the name of another source' },
    ]);
    const path = `/sources/${String(second.body.source)}`;
    const moved = await desk.send('PUT', path, settings({ peer }));
    expect([moved.status, pointersOf(moved)]).toEqual([409, ['/peer']]);
    // What is its own is no conflict.
    expect((await desk.send('PUT', path, settings({ peer: other }))).status).toBe(200);
  });

  it('bounds what it takes', async () => {
    const authorities = Object.fromEntries(
      Array.from({ length: 201 }, (_, place) => [`A${place}`, 'urn:example:mrn']),
    );
    const many = await desk.send('POST', '/sources', settings({ authorities }));
    expect([many.status, pointersOf(many)]).toEqual([400, ['/authorities']]);
    const long = await desk.send('POST', '/sources', settings({ name: 'x'.repeat(201) }));
    expect([long.status, pointersOf(long)]).toEqual([400, ['/name']]);
    const huge = await desk.send('POST', '/sources', settings({ name: 'x'.repeat(300_000) }));
    expect(huge.status).toBe(413);
  });

  it('registers one of two that come at once with one peer', async () => {
    const peer = { application: 'AT_ONCE', facility: null };
    const answers = await Promise.all(
      [1, 2, 3, 4].map(() => desk.send('POST', '/sources', settings({ peer }))),
    );
    expect(answers.map(({ status }) => status).sort()).toEqual([201, 409, 409, 409]);
  });

  it.each([
    [{}, ['/name', '/attended']],
    [{ name: 'x\u0000', attended: true }, ['/name']],
    [{ name: '\ud800', attended: true }, ['/name']],
    [{ name: ' ', attended: 'yes' }, ['/name', '/attended']],
    [{ name: 'x', attended: true, zone: 'Europe/Larkfield' }, ['/zone']],
    [{ name: 'x', attended: true, zone: '+02:00' }, ['/zone']],
    [{ name: 'x', attended: true, peer: { application: 'A^B' } }, ['/peer/application']],
    [{ name: 'x', attended: true, peer: { application: '' } }, ['/peer/application']],
    [{ name: 'x', attended: true, certificate: { sha256: 'abc' } }, ['/certificate/sha256']],
    [{ name: 'x', attended: true, certificate: {} }, ['/certificate']],
    [{ name: 'x', attended: true, certificate: { pem: 'no' } }, ['/certificate/pem']],
    [{ name: 'x', attended: true, defaultAuthority: 'mrn' }, ['/defaultAuthority']],
    [
      { name: 'x', attended: true, authorities: { 'A\u0000': 'urn:x:y' } },
      ['/authorities/A\u0000'],
    ],
    [{ name: 'x', attended: true, authorities: { A: 'mrn' } }, ['/authorities/A']],
    [{ name: 'x', attended: true, colour: 'red' }, ['']],
  ])('refuses %j and says where the fault is', async (body, pointers) => {
    const refused = await desk.send('POST', '/sources', body);
    expect([refused.status, pointersOf(refused)]).toEqual([400, pointers]);
  });

  it('knows no source that is not there', async () => {
    for (const id of ['absent', '%00', '0190a2c4-0000-4000-8000-000000000005']) {
      expect((await desk.send('GET', `/sources/${id}`)).status).toBe(404);
      expect((await desk.send('PUT', `/sources/${id}`, settings())).status).toBe(404);
      for (const verb of ['disable', 'enable']) {
        expect((await desk.send('POST', `/sources/${id}/${verb}`)).status).toBe(404);
      }
    }
  });

  it('keeps what came with the gateway what it is', async () => {
    const { body } = await desk.send('GET', '/sources');
    const builtIn = (body.sources as Record<string, unknown>[]).find((one) => one.builtIn === true);
    const { name, attended } = builtIn ?? {};
    expect(builtIn).toMatchObject({ attended: false, secondIdentifierRequired: true });
    const path = `/sources/${String(builtIn?.source)}`;
    for (const more of [
      { name: 'mine' },
      { attended: true },
      { peer: { application: 'X' } },
      { certificate: { sha256: '22'.repeat(32) } },
    ]) {
      expect((await desk.send('PUT', path, { name, attended, ...more })).status).toBe(409);
    }
    const zone = { name, attended, secondIdentifierRequired: true, zone: 'Europe/Vienna' };
    expect((await desk.send('PUT', path, zone)).body).toMatchObject(zone);
  });

  it('takes access from the clients of a disabled source, and gives it back', async () => {
    const { gateway } = desk;
    const body = settings({ attended: true });
    const { body: source } = await desk.send('POST', '/sources', body);
    const client = await addClient(gateway.database.pool, {
      name: 'engine',
      scopes: ['sets.write'],
      source: { name: String(body.name), attended: true },
    });
    if (client === null) throw new Error('the source is not there');
    const status = async (): Promise<number> =>
      (
        await fetch(`${gateway.url}/auth/token`, {
          method: 'POST',
          headers: { authorization: basic(client) },
          body: new URLSearchParams({ grant_type: 'client_credentials' }),
        })
      ).status;
    expect(await status()).toBe(200);
    const disabled = await desk.send('POST', `/sources/${String(source.source)}/disable`);
    expect(disabled.body.disabledAt).toEqual(expect.any(String));
    expect(await status()).toBe(401);
    const enabled = await desk.send('POST', `/sources/${String(source.source)}/enable`);
    expect(enabled.body.disabledAt).toBeNull();
    expect(await status()).toBe(200);
  });

  it('tells when a source was last heard, and what became of its readings', async () => {
    const { gateway } = desk;
    const { body } = await desk.send('POST', '/sources', settings({ attended: true }));
    const source = { name: String(body.name), attended: true };
    const token = await gateway.token('sets.write', source);
    const patient = await registerPatient(gateway, 'LF-71');
    const set = setOf(patient, [oxygen(97), oxygen(140)]);
    expect((await gateway.ask('/sets', { body: set, token })).status).toBe(201);
    let health: unknown;
    await until(async () => {
      ({ health } = (await desk.send('GET', `/sources/${String(body.source)}`)).body);
      return (health as { lastHeard: string | null }).lastHeard !== null;
    });
    expect(health).toMatchObject({ lastDay: { accepted: 1, noted: 0, held: 0, rejected: 1 } });
  });

  it('is for administrators', async () => {
    const token = await desk.gateway.token('sets.write review.write rules.write');
    for (const path of ['/admin/sources', '/admin/devices']) {
      expect((await desk.gateway.ask(path, { token })).status).toBe(403);
    }
  });
});
