import { SourceDirectory } from '../../src/store/source-directory.js';
import type { PeerQuestion } from '../../src/store/source-directory.js';
import { forceMapping, proposeMapping } from '../../src/store/source-mappings.js';
import { addSource, listSources, setSourceDisabled } from '../../src/store/sources.js';
import type { SourceRecord, SourceSettings } from '../../src/store/sources.js';
import { addClient } from '../../src/store/clients.js';
import type { Actor } from '../../src/store/editions.js';
import { NO_MAPPING } from '../../src/vitals/source-profile.js';
import type { SourceMapping } from '../../src/vitals/source-profile.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

const ONE = 'a1'.repeat(32);
const TWO = 'b2'.repeat(32);

let database: TestDatabase;
let by: Actor;
let directory: SourceDirectory;

beforeAll(async () => {
  database = await openTestDatabase();
  const source = { name: 'office', attended: true };
  await addClient(database.pool, { name: 'admin', scopes: ['admin'], source });
  const { rows } = await database.pool.query<{ client_key: number }>(
    'select client_key from clients',
  );
  by = { clientKey: rows[0]?.client_key ?? 0, personKey: null };
  await add('any facility', { application: 'ENGINE' });
  await add('east', { application: 'ENGINE', facility: 'EAST' });
  await add('by universal id', { application: '00-1A-C5-FF-FE-20-4B-07' });
  await add('certified', { certificateSha256: ONE });
  await add('certified and named', { certificateSha256: TWO, application: 'MON', facility: 'W' });
});
beforeEach(() => {
  directory = new SourceDirectory(database.pool);
});
afterAll(() => database.close());

async function add(name: string, more: Partial<SourceSettings>): Promise<SourceRecord> {
  const outcome = await addSource(database.pool, by, {
    ...{ name, attended: false, secondIdentifierRequired: false, zone: null, synchronised: false },
    ...{ application: null, facility: null, certificateSha256: null },
    ...{ defaultAuthority: null, authorities: {} },
    ...more,
  });
  if (outcome.outcome !== 'done') throw new Error(outcome.outcome);
  return outcome.source;
}

const nameOf = (namespace: string, universalId = '') => ({ namespace, universalId });

/** The name of the source that is found, or the reason why none is. */
async function find(more: Partial<PeerQuestion>): Promise<string> {
  const answer = await directory.findPeer({
    certificateSha256: null,
    application: nameOf(''),
    facility: nameOf(''),
    loopback: true,
    ...more,
  });
  return answer.found ? answer.source.name : answer.reason;
}

describe('whose message it is', () => {
  it('is told by its names, the facility too where that is registered', async () => {
    const application = nameOf('ENGINE');
    expect(await find({ application, facility: nameOf('EAST') })).toBe('east');
    expect(await find({ application, facility: nameOf('', 'EAST') })).toBe('east');
    expect(await find({ application, facility: nameOf('WEST') })).toBe('any facility');
    expect(await find({ application })).toBe('any facility');
    const monitor = nameOf('ENGINE', '00-1A-C5-FF-FE-20-4B-07');
    expect(await find({ application: monitor })).toBe('by universal id');
  });

  it('is nobody’s whom anybody registered, and then one source’s that trusts it little', async () => {
    for (const application of [nameOf(''), nameOf('engine'), nameOf('x'.repeat(100_000))]) {
      expect(await find({ application })).toBe('unregistered HL7 v2 peers');
    }
    const answer = await directory.findPeer({
      certificateSha256: null,
      application: nameOf('\u0000'),
      facility: nameOf(''),
      loopback: true,
    });
    expect(answer).toMatchObject({
      source: {
        registered: false,
        secondIdentifierRequired: true,
        profile: { attended: false, zone: null, defaultAuthority: null, mapping: NO_MAPPING },
      },
    });
  });

  it('is told by its certificate, and then it may not name itself as another', async () => {
    const east = { application: nameOf('ENGINE'), facility: nameOf('EAST') };
    const mon = { application: nameOf('MON'), facility: nameOf('W') };
    const from = (certificateSha256: string, more: object): Promise<string> =>
      find({ certificateSha256, loopback: false, ...more });
    expect(await from(ONE, {})).toBe('certified');
    expect(await from(ONE, { application: nameOf('WHATEVER') })).toBe('certified');
    expect(await from(ONE, east)).toBe('names-differ');
    expect(await from(ONE, mon)).toBe('names-differ');
    expect(await from(TWO, mon)).toBe('certified and named');
    expect(await from(TWO, { application: nameOf('MON') })).toBe('names-differ');
    expect(await from(TWO, {})).toBe('names-differ');
    expect(await from('c3'.repeat(32), mon)).toBe('certificate-unknown');
    expect(await from('c3'.repeat(32), east)).toBe('certificate-unknown');
  });

  it('is refused without protection, and under a certified name without the certificate', async () => {
    const application = nameOf('MON');
    expect(await find({ application, facility: nameOf('W') })).toBe('certificate-missing');
    expect(await find({ application: nameOf('ENGINE'), loopback: false })).toBe('not-protected');
  });

  it('is nobody’s while its source is disabled', async () => {
    const { pool } = database;
    const application = nameOf('OLD');
    const old = await add('old', { application: 'OLD' });
    const builtIn = (await listSources(pool)).find((source) => source.builtIn);
    for (const [id, question] of [
      [old.sourceId, { application }],
      [builtIn?.sourceId ?? '', { application: nameOf('NOBODY') }],
    ] as const) {
      await setSourceDisabled(pool, by, id, Date.now());
      directory.forget();
      expect(await find(question)).toBe('disabled');
      await setSourceDisabled(pool, by, id, null);
      directory.forget();
      expect(await find(question)).not.toBe('disabled');
    }
  });

  it('is known again after two seconds at the latest, also when another process changed it', async () => {
    const application = nameOf('LATER');
    expect(await find({ application })).toBe('unregistered HL7 v2 peers');
    await add('later', { application: 'LATER' });
    expect(await find({ application })).toBe('unregistered HL7 v2 peers');
    await new Promise((resolve) => setTimeout(resolve, 2_050));
    expect(await find({ application })).toBe('later');
  });

  it('fails while the database does, and not afterwards', async () => {
    await database.pool.query('alter table sources rename to hidden');
    await expect(directory.findSource(1)).rejects.toThrow('sources');
    await database.pool.query('alter table hidden rename to sources');
    expect(await directory.findSource(1)).not.toBeNull();
  });
});

describe('how its messages are read', () => {
  it('is by the registration and the mapping that was put in force last', async () => {
    const { pool } = database;
    const { sourceKey, sourceId } = await add('mapped', {
      ...{ attended: true, zone: 'Europe/Vienna', synchronised: true },
      ...{ defaultAuthority: 'urn:example:mrn', authorities: { W: 'urn:example:w' } },
    });
    const mappingOf = async (): Promise<SourceMapping | undefined> => {
      directory.forget();
      return (await directory.findSource(sourceKey))?.profile.mapping;
    };
    expect(await directory.findSource(sourceKey)).toEqual({
      ...{ sourceKey, sourceId, name: 'mapped', registered: true },
      ...{ secondIdentifierRequired: false, synchronised: true },
      profile: {
        ...{ attended: true, zone: 'Europe/Vienna', mapping: NO_MAPPING },
        ...{ defaultAuthority: 'urn:example:mrn', authorities: { W: 'urn:example:w' } },
      },
    });
    const first: SourceMapping = { codes: [{ code: 'P', vital: 'pulse-rate' }], units: [] };
    const second: SourceMapping = { codes: [], units: [{ alias: 'bpm', unit: '/min' }] };
    for (const mapping of [first, second]) {
      await proposeMapping(pool, by, sourceId, { mapping, reason: 'x' }, Date.now());
    }
    expect(await mappingOf()).toEqual(NO_MAPPING);
    const forcing = { reason: 'x', untried: true };
    // The second by a clock that is behind: what is put in force later counts.
    await forceMapping(pool, by, sourceId, 1, forcing, Date.now());
    expect(await mappingOf()).toEqual(first);
    await forceMapping(pool, by, sourceId, 2, forcing, Date.now() - 60_000);
    expect(await mappingOf()).toEqual(second);
    await forceMapping(pool, by, sourceId, 1, forcing, Date.now() - 60_000);
    expect(await mappingOf()).toEqual(first);
  });

  it('is unknown of a source that is not there', async () => {
    expect(await directory.findSource(99_999)).toBeNull();
  });
});
