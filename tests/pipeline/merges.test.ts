/** R4 Patient.link: the retired resource stays, with replaced-by; what merging moves gets a next version. */
import { MRN, oxygen, registerPatient, setOf } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

let gateway: TestGateway;
let other: TestGateway['gateway'];
let sender: string;
let reader: string;
let analyst: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  other = gateway.gateway;
  sender = await gateway.token('sets.write');
  reader = await gateway.token('system/*.rs');
  analyst = await gateway.token('review.read review.write');
});

afterAll(() => gateway.close());

interface Bundle {
  readonly total: number;
  readonly entry?: readonly {
    readonly resource: {
      readonly resourceType: string;
      readonly id: string;
      readonly meta: { readonly versionId: string };
      readonly subject: { readonly reference: string };
    };
    readonly search: { readonly mode: string };
  }[];
}

interface SentSet {
  readonly readings: readonly { readonly observation: string; readonly verdict: string }[];
}

async function send(set: object): Promise<SentSet> {
  const answer = await gateway.ask<SentSet>('/sets', { token: sender, body: set });
  expect(answer.status).toBe(201);
  return answer.body;
}

async function patientId(number: string): Promise<string> {
  const { body } = await gateway.ask<Bundle>(`/fhir/Patient?identifier=${MRN}%7C${number}`, {
    token: reader,
  });
  return body.entry?.find(({ search }) => search.mode === 'match')?.resource.id ?? '';
}

async function observationsOf(patient: string) {
  const { body } = await gateway.ask<Bundle>(`/fhir/Observation?patient=${patient}`, {
    token: reader,
  });
  return (body.entry ?? [])
    .filter(({ search }) => search.mode === 'match')
    .map(({ resource }) => ({
      id: resource.id,
      version: resource.meta.versionId,
      subject: resource.subject.reference,
    }));
}

function merge(retired: string, survivor: string) {
  return gateway.ask<{ merge: string; readings: number }>('/review/merges', {
    token: analyst,
    body: {
      retired: { identifier: { system: MRN, value: retired } },
      survivor: { identifier: { system: MRN, value: survivor } },
      reason: 'One person, admitted twice.',
    },
  });
}

it('moves every Observation to the survivor, and back when it is undone', async () => {
  const gone = await registerPatient(gateway, 'M-1');
  const stays = await registerPatient(gateway, 'M-2');
  const [goneId, staysId] = [await patientId('M-1'), await patientId('M-2')];
  const first = await send(setOf(gone, [oxygen(96)]));
  const own = await send(setOf(stays, [oxygen(97)]));

  const done = await merge('M-1', 'M-2');
  expect(done).toMatchObject({ status: 201, body: { readings: 1 } });

  const moved = first.readings[0]?.observation.slice('Observation/'.length);
  const ofSurvivor = await observationsOf(staysId);
  expect(ofSurvivor).toContainEqual({ id: moved, version: '2', subject: `Patient/${staysId}` });
  expect(ofSurvivor).toHaveLength(2);
  expect(await observationsOf(goneId)).toEqual(ofSurvivor);
  const before = await gateway.ask(`/fhir/Observation/${moved ?? ''}/_history/1`, {
    token: reader,
  });
  expect(before.body).toMatchObject({ subject: { reference: `Patient/${goneId}` } });

  const retired = await gateway.ask(`/fhir/Patient/${goneId}`, { token: reader });
  expect(retired.body).toMatchObject({
    active: false,
    link: [{ other: { reference: `Patient/${staysId}` }, type: 'replaced-by' }],
  });
  const survivor = await gateway.ask(`/fhir/Patient/${staysId}`, { token: reader });
  expect(survivor.body).toMatchObject({
    link: [{ other: { reference: `Patient/${goneId}` }, type: 'replaces' }],
  });

  // Sent under the old number, filed under the one patient there is.
  const later = await send(setOf(gone, [oxygen(95)]));
  expect(later.readings[0]?.verdict).not.toBe('held');
  expect(await observationsOf(staysId)).toHaveLength(3);

  const undone = await gateway.ask(`/review/merges/${done.body.merge}/undo`, {
    token: analyst,
    body: { reason: 'Two sisters.' },
  });
  expect(undone.status).toBe(200);
  expect((await observationsOf(goneId)).map(({ id }) => id).toSorted()).toEqual(
    [first, later].map(({ readings }) => readings[0]?.observation.slice(12) ?? '').toSorted(),
  );
  expect((await observationsOf(staysId)).map(({ id }) => id)).toEqual([
    own.readings[0]?.observation.slice(12),
  ]);
  const again = await gateway.ask(`/fhir/Patient/${goneId}`, { token: reader });
  expect(again.body).toMatchObject({ active: true });
  expect(again.body).not.toHaveProperty('link');
});

it('keeps the links when the survivor is registered anew', async () => {
  await registerPatient(gateway, 'M-11');
  await registerPatient(gateway, 'M-12');
  const staysId = await patientId('M-12');
  await merge('M-11', 'M-12');
  await registerPatient(gateway, 'M-12', '1967-03-22');
  const { body } = await gateway.ask(`/fhir/Patient/${staysId}`, { token: reader });
  expect(body).toMatchObject({ birthDate: '1967-03-22', link: [{ type: 'replaces' }] });
});

it('refuses to merge what is one already, or what nobody knows', async () => {
  await registerPatient(gateway, 'M-21');
  expect((await merge('M-21', 'M-21')).status).toBe(409);
  expect((await merge('M-404', 'M-21')).status).toBe(422);
  expect((await merge('M-21', 'M-404')).status).toBe(422);
});

it('files nothing under a retired patient, though another process remembers whose the number was', async () => {
  const gone = await registerPatient(gateway, 'M-31');
  await registerPatient(gateway, 'M-32');
  const staysId = await patientId('M-32');
  // The pipeline of this process has learnt the number before the merge.
  await send(setOf(gone, [oxygen(96)]));
  await merge('M-31', 'M-32');
  const body = Buffer.from(JSON.stringify(setOf(gone, [oxygen(94)])));
  const { rows } = await gateway.database.pool.query<{ source_key: number; client_key: number }>(
    'select source_key, client_key from clients order by client_key limit 1',
  );
  const reply = await other.pipelineAt(Date.now).receiveSet(
    {
      clientKey: rows[0]?.client_key ?? 0,
      clientId: 'x',
      sourceKey: rows[0]?.source_key ?? 0,
      source: 'ward tablets',
      attended: true,
      secondIdentifierRequired: false,
      person: null,
    },
    body,
    'application/json',
  );
  expect(reply.status).toBe(201);
  expect(await observationsOf(staysId)).toHaveLength(2);
});

it('takes two numbers of one person together when a registration names both', async () => {
  const birthDate = '1971-07-01';
  await send(setOf({ number: 'M-41', birthDate }, [oxygen(93)]));
  await registerPatient(gateway, 'M-42', birthDate);
  const id = await patientId('M-42');
  const admin = await gateway.token('system/Patient.crus');
  const answer = await gateway.ask(`/fhir/Patient?identifier=${MRN}%7CM-42`, {
    method: 'PUT',
    token: admin,
    headers: { 'content-type': 'application/fhir+json' },
    body: {
      resourceType: 'Patient',
      identifier: [
        { system: MRN, value: 'M-42' },
        { system: MRN, value: 'M-41' },
      ],
      name: [{ family: 'Aldous', given: ['Wren'] }],
      gender: 'female',
      birthDate,
    },
  });
  expect(answer.status).toBe(200);
  for (let tries = 0; tries < 50 && (await observationsOf(id)).length === 0; tries += 1) {
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  expect(await observationsOf(id)).toHaveLength(1);
});
