/** Looking a patient up at the bed: whole identifiers only, one patient or none, and each look on record. */
import { auditRows } from '../../setup/audit-rows.js';
import { atBedside } from '../../setup/bedside.js';
import type { BedsidePerson } from '../../setup/bedside.js';
import { MRN } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { registerPeople } from '../../setup/people.js';

const WARD = 'urn:example:ward-number';

let gateway: TestGateway;
let nurse: BedsidePerson;

beforeAll(async () => {
  gateway = await openTestGateway(
    { PATIENT_IDENTIFIERS: `Hospital number=${MRN}, Ward number=${WARD}` },
    { localSignIn: true },
  );
  nurse = await atBedside(gateway, await registerPeople(gateway), 'hazel');
  await register(
    [
      { system: MRN, value: 'LF-20417' },
      { system: WARD, value: '12' },
    ],
    'Birchall',
  );
  await register([{ system: MRN, value: '12' }], 'Quayle');
});
afterAll(() => gateway.close());

async function register(identifier: { system: string; value: string }[], family: string) {
  const token = await gateway.token('system/Patient.crus');
  const [first] = identifier;
  const path = `/fhir/Patient?identifier=${first?.system ?? ''}%7C${first?.value ?? ''}`;
  const answer = await gateway.ask(path, {
    ...{ method: 'PUT', token },
    headers: { 'content-type': 'application/fhir+json' },
    body: {
      ...{ resourceType: 'Patient', identifier, gender: 'female', birthDate: '1958-11-02' },
      name: [
        { use: 'maiden', family: 'Elder', given: ['Maud'] },
        { family, given: ['Maud', 'Iris'] },
      ],
    },
  });
  expect(answer.status).toBe(201);
}

const find = (body: object, token = nurse.token) =>
  gateway.ask('/bedside/patients/find', { body, token });

describe('a patient looked up at the bed', () => {
  it('is shown with what is confirmed by hand, and with nothing else', async () => {
    const answer = await find({ system: MRN, value: 'LF-20417' });
    expect(answer.status).toBe(200);
    expect(answer.headers.get('cache-control')).toBe('no-store');
    expect(answer.body).toEqual({
      identifier: { system: MRN, value: 'LF-20417' },
      others: [{ system: WARD, value: '12' }],
      familyName: 'Birchall',
      givenNames: ['Maud', 'Iris'],
      birthDate: '1958-11-02',
      gender: 'female',
    });
  });

  it('is found under each of the kinds of the site when none is named', async () => {
    expect((await find({ value: ' LF-20417 ' })).body).toMatchObject({ familyName: 'Birchall' });
  });

  it('is not told from another of the same number: the system must be named', async () => {
    expect((await find({ value: '12' })).status).toBe(409);
    expect((await find({ system: MRN, value: '12' })).body).toMatchObject({ familyName: 'Quayle' });
  });

  it.each([{ value: 'LF-2041' }, { value: 'LF-20417%' }, { value: '_' }, { value: 'lf-20417' }])(
    'is not found by %j',
    async (body) => {
      expect((await find(body)).status).toBe(404);
    },
  );

  it.each([
    {},
    { value: '' },
    { value: 7 },
    { value: 'a\u0000' },
    { value: '1', name: 'Birchall' },
  ])('is not looked for by %j', async (body) => {
    expect((await find(body)).status).toBe(400);
  });

  it('is shown to nobody without the scope', async () => {
    for (const scopes of ['sets.write sets.check', 'review.read', 'system/*.rs']) {
      const answer = await find({ value: 'LF-20417' }, await gateway.token(scopes));
      expect(answer.status).toBe(403);
    }
    expect((await find({ value: 'LF-20417' }, 'abc')).status).toBe(401);
  });

  it('leaves a line on record by the person, with the patient and never the number', async () => {
    await find({ system: MRN, value: 'LF-20417' });
    const { pool } = gateway.database;
    const rows = await auditRows(
      pool,
      `action = 'patient-looked-up' and outcome = 200 and patient_key is not null
       and person_key = (select person_key from people where system = $1 and value = $2)`,
      [nurse.identifier.system, nurse.identifier.value],
    );
    expect(rows.length).toBeGreaterThan(0);
    expect(JSON.stringify(rows)).not.toContain('LF-20417');
  });

  it('is not looked for more often than somebody goes from bed to bed', async () => {
    const statuses: number[] = [];
    for (let i = 0; i < 31; i += 1) statuses.push((await find({ value: 'nobody' })).status);
    expect(statuses).toContain(429);
  });
});
