import { compareSecondIdentifiers } from '../../src/rules/identifiers.js';
import { associate, disassociate, endAssociation } from '../../src/store/associations.js';
import type { AssociationOutcome } from '../../src/store/associations.js';
import { noteDeviceClocks } from '../../src/store/device-clocks.js';
import { findAssociatedPatients, readDeviceFacts } from '../../src/store/device-facts.js';
import { changeDevice, registerDevice } from '../../src/store/devices.js';
import { mergePatients } from '../../src/store/merge-patients.js';
import { Names } from '../../src/store/names.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import { EUI64_SYSTEM } from '../../src/vitals/device-identifier.js';
import type { DeviceFacts, Identifier } from '../../src/vitals/shapes.js';
import { MRN, registerPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

const NINE = Date.parse('2026-05-04T09:00:00Z');
const hours = (after: number): number => NINE + after * 3_600_000;

let gateway: TestGateway;
let pool: Pool;
let other: Pool;
let names: Names;
let clientKey: number;
let monitors = 0;

beforeAll(async () => {
  gateway = await openTestGateway();
  const { database } = gateway;
  pool = database.pool;
  other = openPool({ ...database, maxConnections: 4 });
  names = new Names(pool);
  for (const number of ['LF-1', 'LF-2', 'LF-3']) await registerPatient(gateway, number);
  await gateway.token('admin');
  const { rows } = await pool.query<{ client_key: number }>('select client_key from clients');
  clientKey = rows[0]?.client_key ?? 0;
});
afterAll(async () => {
  await other.end();
  await gateway.close();
});

function monitor(): Identifier {
  monitors += 1;
  return { system: 'urn:example:device', value: `MON-${monitors}` };
}

const actor = () => ({ clientKey, personKey: null });
const by = () => ({ origin: 'admin', actor: actor() }) as const;

async function make(
  device: Identifier,
  number: string,
  fromMs: number,
  more: object = {},
  where = pool,
): Promise<AssociationOutcome> {
  return associate(where, new Names(where), compareSecondIdentifiers, {
    device,
    patient: { identifier: { system: MRN, value: number }, birthDate: '1967-03-21' },
    fromMs,
    by: by(),
    nowMs: Date.now(),
    ...more,
  });
}

/** Number, hours after nine from and to, by what it ended. */
async function spansOf(device: Identifier): Promise<unknown[]> {
  const { rows } = await pool.query<{
    value: string;
    from_at: Date;
    to_at: Date | null;
    ended_by: string | null;
  }>(
    `select i.value, a.from_at, a.to_at, a.ended_by from associations a
       join devices d using (device_key) join patient_identifiers i using (identifier_key)
      where d.system = $1 and d.value = $2 order by a.from_at, a.association_key`,
    [device.system, device.value],
  );
  const after = (time: Date | null) => (time === null ? null : (time.getTime() - NINE) / 3_600_000);
  return rows.map((row) => [row.value, after(row.from_at), after(row.to_at), row.ended_by]);
}

async function factsOf(
  device: Identifier,
  number: string,
  [fromMs, toMs, receivedAtMs]: readonly [number, number, number],
): Promise<DeviceFacts[]> {
  const identifier = { system: MRN, value: number };
  await names.learnDevices([device]);
  await names.learnPatients([identifier]);
  const client = await pool.connect();
  try {
    const [facts] = await readDeviceFacts(client, names, [
      {
        devices: [device, device],
        patientKey: names.patient(identifier).patientKey,
        ...{ fromMs, toMs, receivedAtMs },
      },
    ]);
    return facts ?? [];
  } finally {
    client.release();
  }
}

describe('associating a device with a patient', () => {
  it('ends at its start what the device was before', async () => {
    const device = monitor();
    expect((await make(device, 'LF-1', hours(0))).outcome).toBe('associated');
    expect((await make(device, 'LF-2', hours(2))).outcome).toBe('associated');
    expect(await spansOf(device)).toEqual([
      ['LF-1', 0, 2, 'next-association'],
      ['LF-2', 2, null, null],
    ]);
  });

  it('says the same of a repeat, and writes nothing', async () => {
    const device = monitor();
    const first = await make(device, 'LF-1', hours(0));
    const again = await make(device, 'LF-1', hours(1));
    expect(again).toEqual({ ...first, outcome: 'unchanged' });
    expect(await spansOf(device)).toEqual([['LF-1', 0, null, null]]);
  });

  it('fits what comes late before what is known to begin later', async () => {
    const device = monitor();
    await make(device, 'LF-2', hours(4));
    expect((await make(device, 'LF-1', hours(1))).outcome).toBe('associated');
    expect(await spansOf(device)).toEqual([
      ['LF-1', 1, 4, 'next-association'],
      ['LF-2', 4, null, null],
    ]);
  });

  it('takes nothing from somebody whose it was from that moment, or up to a known end', async () => {
    const device = monitor();
    await make(device, 'LF-1', hours(0));
    expect((await make(device, 'LF-2', hours(0))).outcome).toBe('taken');
    await disassociate(pool, names, { device, patient: null, atMs: hours(3), by: by() });
    expect((await make(device, 'LF-2', hours(2))).outcome).toBe('taken');
    expect((await make(device, 'LF-2', hours(3))).outcome).toBe('associated');
  });

  it('asks for two identifiers that agree with the register', async () => {
    const device = monitor();
    const identifier = { system: MRN, value: 'LF-1' };
    const outcome = async (patient: object): Promise<string> =>
      (await make(device, 'LF-1', hours(0), { patient: { identifier, ...patient } })).outcome;
    expect(await outcome({})).toBe('second-identifier-missing');
    expect(await outcome({ birthDate: '1967-03-22' })).toBe('second-identifier-differs');
    expect(await outcome({ birthDate: '1967-03-21', familyName: 'Reed' })).toBe(
      'second-identifier-differs',
    );
    expect(await outcome({ familyName: 'ALDOUS' })).toBe('associated');
    expect((await make(device, 'LF-404', hours(1))).outcome).toBe('patient-unknown');
    // A set may have named somebody whom nobody registered: the identifier alone is no patient.
    await names.learnPatients([{ system: MRN, value: 'LF-405' }]);
    expect((await make(device, 'LF-405', hours(1))).outcome).toBe('patient-unknown');
  });

  it('keeps one patient when two processes associate at once', async () => {
    for (let round = 0; round < 10; round += 1) {
      const device = monitor();
      const outcomes = await Promise.all([
        make(device, 'LF-1', hours(0)),
        make(device, 'LF-2', hours(0), {}, other),
        make(device, 'LF-3', hours(1), {}, other),
        make(device, 'LF-2', hours(1)),
      ]);
      const kept = outcomes.filter(({ outcome }) => outcome === 'associated');
      expect(kept).toHaveLength(2);
      const spans = await spansOf(device);
      expect(spans).toEqual([
        [expect.stringMatching('LF-[12]'), 0, 1, 'next-association'],
        [expect.stringMatching('LF-[23]'), 1, null, null],
      ]);
    }
  });
});

describe('a patient who turns out to be another', () => {
  it('is associated as the survivor, also when the merge comes at the same moment', async () => {
    const named = (value: string): Identifier => ({ system: MRN, value });
    for (const [retired, survivor] of [
      ['LF-11', 'LF-12'],
      ['LF-13', 'LF-14'],
      ['LF-15', 'LF-16'],
    ] as const) {
      await registerPatient(gateway, retired);
      await registerPatient(gateway, survivor);
      const device = monitor();
      const [merged, made] = await Promise.all([
        mergePatients(other, {
          ...{ retired: named(retired), survivor: named(survivor), reason: 'One person' },
          ...{ clientKey, personKey: null, submissionId: null },
        }),
        make(device, retired, hours(0)),
      ]);
      expect([merged.kind, made.outcome]).toEqual(['merged', 'associated']);
      expect(await factsOf(device, survivor, [hours(0), hours(1), hours(1)])).toMatchObject([
        { associations: [{ ofThisPatient: true }] },
      ]);
      const end = { device, patient: named(survivor), atMs: hours(1), by: by() };
      expect((await disassociate(pool, names, end)).outcome).toBe('disassociated');
    }
  });
});

describe('ending an association', () => {
  it('ends whose a device is, once, and not somebody else’s', async () => {
    const device = monitor();
    const end = async (number: string | null, atMs: number): Promise<string> => {
      const patient = number === null ? null : { system: MRN, value: number };
      return (await disassociate(pool, names, { device, patient, atMs, by: by() })).outcome;
    };
    expect(await end('LF-1', hours(1))).toBe('not-associated');
    await make(device, 'LF-1', hours(0));
    expect(await end('LF-1', hours(-1))).toBe('not-associated');
    expect(await end('LF-2', hours(1))).toBe('another-patient');
    expect(await end('LF-404', hours(1))).toBe('another-patient');
    expect(await end('LF-1', hours(2))).toBe('disassociated');
    expect(await end('LF-1', hours(3))).toBe('unchanged');
    expect(await end(null, hours(2))).toBe('unchanged');
    expect(await end('LF-2', hours(3))).toBe('not-associated');
    expect(await spansOf(device)).toEqual([['LF-1', 0, 2, 'disassociation']]);
  });

  it('moves an end back, never on', async () => {
    const device = monitor();
    await make(device, 'LF-1', hours(0));
    await make(device, 'LF-2', hours(5));
    const request = { device, patient: { system: MRN, value: 'LF-1' }, by: by() };
    await disassociate(pool, names, { ...request, atMs: hours(3) });
    expect((await disassociate(pool, names, { ...request, atMs: hours(4) })).outcome).toBe(
      'unchanged',
    );
    expect(await spansOf(device)).toEqual([
      ['LF-1', 0, 3, 'disassociation'],
      ['LF-2', 5, null, null],
    ]);
  });

  it('takes a mistake back by an end at its own start', async () => {
    const device = monitor();
    const made = await make(device, 'LF-1', hours(0));
    if (made.outcome !== 'associated') throw new Error(made.outcome);
    const { rows } = await pool.query<{ device_id: string }>(
      'select device_id from devices where value = $1',
      [device.value],
    );
    const { associationId } = made.association;
    const deviceId = rows[0]?.device_id ?? '';
    const end = async (atMs: number): Promise<string> =>
      (await endAssociation(pool, { deviceId, associationId, atMs, actor: actor() })).outcome;
    expect(await end(hours(-1))).toBe('before-start');
    expect(await end(hours(2))).toBe('ended');
    expect(await end(hours(2))).toBe('unchanged');
    expect(await end(hours(3))).toBe('ended-before');
    expect(await end(hours(0))).toBe('ended');
    expect((await make(device, 'LF-2', hours(0))).outcome).toBe('associated');
    expect(await factsOf(device, 'LF-2', [hours(0), hours(1), hours(1)])).toMatchObject([
      { associations: [{ fromMs: hours(0), toMs: null, ofThisPatient: true }] },
    ]);
  });
});

describe('what judging is told of a device', () => {
  it('is nothing where nothing is known, and the database is not asked without a device', async () => {
    expect(await factsOf(monitor(), 'LF-1', [hours(0), hours(1), hours(1)])).toEqual([]);
    const client = await pool.connect();
    const asked = jest.spyOn(client, 'query');
    const nobody = { devices: [], patientKey: 1, fromMs: NINE, toMs: NINE, receivedAtMs: NINE };
    expect(await readDeviceFacts(client, names, [nobody, nobody])).toEqual([[], []]);
    expect(asked).not.toHaveBeenCalled();
    asked.mockRestore();
    client.release();
  });

  it('is whose it was at the readings’ times and at the receipt, and whether it is this patient', async () => {
    const device = monitor();
    await make(device, 'LF-1', hours(0));
    await make(device, 'LF-2', hours(2));
    await make(device, 'LF-3', hours(4));
    const first = { fromMs: hours(0), toMs: hours(2) };
    const second = { fromMs: hours(2), toMs: hours(4) };
    const third = { fromMs: hours(4), toMs: null };
    const told = async (...times: [number, number, number]): Promise<unknown> => {
      const facts = await factsOf(device, 'LF-1', times);
      expect(facts).toHaveLength(1);
      expect(facts[0]).toMatchObject({ device, registered: null, clock: null });
      return facts[0]?.associations;
    };
    expect(await told(hours(0.5), hours(1), hours(1))).toEqual([{ ...first, ofThisPatient: true }]);
    // Sent late: whose it was then, and whose it is now.
    expect(await told(hours(0.5), hours(1), hours(5))).toEqual([
      { ...first, ofThisPatient: true },
      { ...third, ofThisPatient: false },
    ]);
    // The end is not part of it; the start is.
    expect(await told(hours(2), hours(2), hours(2))).toEqual([{ ...second, ofThisPatient: false }]);
    expect(await told(hours(1), hours(4), hours(1))).toHaveLength(3);
    // Before anybody's, received while it is the first patient's.
    expect(await told(hours(-2), hours(-1), hours(0))).toEqual([{ ...first, ofThisPatient: true }]);
  });

  it('is what was registered of it, and how its clock was last seen', async () => {
    const device = monitor();
    const settings = {
      ...{ display: null, type: null, location: null, attended: null, worn: false, zone: null },
      ...{ accuracy: {}, disabled: false, timeAccuracyMs: 500, signs: ['pulse-rate'] as const },
    };
    await registerDevice(pool, names, actor(), device, settings);
    const pair = { device, deviceMs: hours(0) + 4_000, trueMs: hours(0) };
    await noteDeviceClocks(pool, names, [pair], hours(0));
    const told = () => factsOf(device, 'LF-1', [hours(0), hours(1), hours(1)]);
    const facts = {
      device,
      registered: { signs: ['pulse-rate'], disabled: false, timeAccuracyMs: 500 },
      associations: [],
      clock: { offsetMs: 4_000, seenAtMs: hours(0) },
    };
    expect(await told()).toEqual([facts]);
    const { rows } = await pool.query<{ device_id: string }>(
      'select device_id from devices where value = $1',
      [device.value],
    );
    const changed = { ...settings, signs: null, timeAccuracyMs: null, disabled: true };
    await changeDevice(pool, names, actor(), rows[0]?.device_id ?? '', 1, changed);
    const registered = { signs: null, disabled: true, timeAccuracyMs: null };
    expect(await told()).toEqual([{ ...facts, registered }]);
  });

  it('answers each question of a batch in its place', async () => {
    const [one, two] = [monitor(), monitor()];
    await make(one, 'LF-1', hours(0));
    await make(two, 'LF-2', hours(0));
    await names.learnDevices([one, two]);
    const patient = { system: MRN, value: 'LF-2' };
    await names.learnPatients([patient]);
    const { patientKey } = names.patient(patient);
    const times = { patientKey, fromMs: hours(1), toMs: hours(1), receivedAtMs: hours(1) };
    const client = await pool.connect();
    try {
      const answers = await readDeviceFacts(client, names, [
        { devices: [two, one], ...times },
        { devices: [], ...times },
        { devices: [one, monitor()], ...times },
      ]);
      const short = answers.map((facts) =>
        facts.map((fact) => [fact.device.value, fact.associations[0]?.ofThisPatient]),
      );
      expect(short).toEqual([
        [
          [two.value, true],
          [one.value, false],
        ],
        [],
        [[one.value, false]],
      ]);
    } finally {
      client.release();
    }
  });

  it('is the same of a device however its EUI-64 is spelled', async () => {
    const spelled = (value: string): Identifier => ({ system: EUI64_SYSTEM, value });
    await make(spelled('00:1a:c5:ff:fe:20:4b:99'), 'LF-1', hours(0));
    const questions = [{ device: spelled('001AC5FFFE204B99'), atMs: hours(1) }];
    expect(await findAssociatedPatients(pool, questions)).toEqual([{ system: MRN, value: 'LF-1' }]);
    const written = spelled('00-1A-C5-FF-FE-20-4B-99');
    expect(await factsOf(written, 'LF-1', [hours(0), hours(1), hours(1)])).toMatchObject([
      { device: written, associations: [{ ofThisPatient: true }] },
    ]);
  });

  it('names the patient whose a device was at a time', async () => {
    const device = monitor();
    await make(device, 'LF-1', hours(0));
    await make(device, 'LF-2', hours(2));
    await disassociate(pool, names, { device, patient: null, atMs: hours(3), by: by() });
    const at = (atMs: number) => ({ device, atMs });
    expect(
      await findAssociatedPatients(pool, [
        at(hours(2.5)),
        at(hours(0)),
        at(hours(-0.1)),
        at(hours(2)),
        at(hours(3)),
        { device: monitor(), atMs: hours(1) },
      ]),
    ).toEqual([
      { system: MRN, value: 'LF-2' },
      { system: MRN, value: 'LF-1' },
      null,
      { system: MRN, value: 'LF-2' },
      null,
      null,
    ]);
  });
});
