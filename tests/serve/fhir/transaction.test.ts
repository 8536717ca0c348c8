import type { BundleEntry, Observation, OperationOutcome } from 'fhir/r4.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { MRN, minutesAgo, registerPatient } from '../../setup/example-sets.js';
import type { TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway, Told } from '../../setup/gateway.js';
import type { AnyBundle } from './fhir-fixture.js';
import {
  FhirSender,
  byIdentifier,
  coded,
  cuffPressure,
  post,
  saturation,
  statuses,
  temperature,
} from './sent-observations.js';

let gateway: TestGateway;
let sender: FhirSender;
let wren: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await FhirSender.of(gateway);
  wren = await registerPatient(gateway, 'FT-1');
});
afterAll(() => gateway.close());

type Json = Readonly<Record<string, unknown>>;

function send<T = AnyBundle>(
  type: 'batch' | 'transaction',
  entry: readonly unknown[],
  headers: Readonly<Record<string, string>> = {},
): Promise<Told<T>> {
  return sender.post<T>('', { resourceType: 'Bundle', type, entry }, headers);
}

const outcomeOf = (entry: BundleEntry | undefined): OperationOutcome | undefined =>
  entry?.response?.outcome as OperationOutcome | undefined;
const codesOf = (outcome: OperationOutcome | undefined): string[] =>
  (outcome?.issue ?? []).map(({ code }) => code);
const rulesOf = (outcome: OperationOutcome | undefined): (string | undefined)[] =>
  (outcome?.issue ?? []).map(({ details }) => details?.coding?.[0]?.code);
const shown = async (entry: BundleEntry | undefined): Promise<Observation> =>
  (await sender.ask<Observation>(entry?.response?.location ?? '')).body;

async function countObservations(): Promise<number> {
  const { rows } = await gateway.database.pool.query<{ count: number }>(
    'select count(*)::int as count from readings',
  );
  return rows[0]?.count ?? 0;
}

describe('a transaction (R4 §3.1.0.11)', () => {
  it('answers each entry in its place, and judges one patient’s readings together', async () => {
    const at = minutesAgo(4);
    const { status, body } = await send('transaction', [
      post(cuffPressure(byIdentifier(wren), 148, 81, { effectiveDateTime: at })),
      post(temperature(byIdentifier(wren), 5, { effectiveDateTime: at })),
      post(
        cuffPressure(byIdentifier(wren), 118, 76, {
          effectiveDateTime: at,
          device: undefined,
          method: coded('http://snomed.info/sct', '37931006'),
        }),
      ),
      post(saturation(byIdentifier(wren), 97, { effectiveDateTime: at })),
    ]);
    expect([status, body.type, bundleFaults(body)]).toEqual([200, 'transaction-response', []]);
    // Two methods that disagree are held, a temperature that cannot be is rejected, and nothing else suffers.
    expect(statuses(body)).toEqual(['202', '202', '202', '201']);
    expect(rulesOf(outcomeOf(body.entry?.[0]))).toContain('blood-pressure-methods-disagree');
    expect(rulesOf(outcomeOf(body.entry?.[2]))).toContain('blood-pressure-methods-disagree');
    expect(rulesOf(outcomeOf(body.entry?.[1]))).toContain('value-impossible');
    expect((await shown(body.entry?.[3])).valueQuantity?.value).toBe(97);
    expect(body.entry?.[3]?.response).toMatchObject({ etag: 'W/"1"' });
  });

  it('fails as a whole for one fault of form, reference or element, and keeps the bytes', async () => {
    const before = await countObservations();
    const good = post(saturation(byIdentifier(wren), 96, { effectiveDateTime: minutesAgo(6) }));
    for (const [bad, expected, code, path] of [
      [
        post({ ...saturation(byIdentifier(wren), 96), colour: 1 }),
        400,
        'structure',
        'Bundle.entry[1].resource.colour',
      ],
      [
        post(saturation({ reference: 'Patient/1' }, 96)),
        422,
        'not-found',
        'Bundle.entry[1].resource.subject',
      ],
      [
        post(saturation({ reference: 'urn:uuid:0b3a' }, 96)),
        422,
        'not-found',
        'Bundle.entry[1].resource.subject',
      ],
      [
        post(saturation({ reference: `Patient?identifier=${MRN}|nobody` }, 96)),
        422,
        'not-found',
        'Bundle.entry[1].resource.subject',
      ],
      [
        post(saturation(byIdentifier(wren), 96, { specimen: { display: 'x' } })),
        422,
        'not-supported',
        'Bundle.entry[1].resource.specimen',
      ],
      [
        { request: { method: 'DELETE', url: 'Observation/1' } },
        422,
        'not-supported',
        'Bundle.entry[1].request',
      ],
      [post({ resourceType: 'Provenance' }), 422, 'not-supported', 'Bundle.entry[1].request'],
    ] as const) {
      const { status, body } = await send<OperationOutcome>('transaction', [good, bad]);
      expect([
        status,
        body.resourceType,
        body.issue[0]?.code,
        body.issue[0]?.expression?.[0],
      ]).toEqual([expected, 'OperationOutcome', code, path]);
    }
    expect(await countObservations()).toBe(before);
    // What failed for its neighbour is taken when it comes again alone.
    expect(statuses((await send('transaction', [good])).body)).toEqual(['201']);
  });

  it('answers 202 for what is no vital sign, so that a battery does not cost the readings', async () => {
    const battery = {
      ...saturation(byIdentifier(wren), 100),
      code: coded('urn:iso:std:iso:11073:10101', '67996'),
    };
    const { body } = await send('transaction', [
      post(battery),
      post(saturation(byIdentifier(wren), 98, { effectiveDateTime: minutesAgo(8) })),
    ]);
    expect(statuses(body)).toEqual(['202', '201']);
    expect(codesOf(outcomeOf(body.entry?.[0]))).toEqual(['code-invalid']);
    const { rows } = await gateway.database.pool.query(
      "select at, code from unread_rows where code = '67996'",
    );
    expect(rows).toEqual([{ at: 'entry 1', code: '67996' }]);
  });

  it('follows references to entries, to what is contained, and to a search', async () => {
    const patient = {
      resourceType: 'Patient',
      identifier: [{ system: MRN, value: wren.number }],
      birthDate: wren.birthDate,
    };
    const nurse = {
      resourceType: 'Practitioner',
      id: 'nurse',
      identifier: [{ system: 'urn:example:staff', value: 'N-418' }],
    };
    const at = minutesAgo(10);
    const { body } = await send('transaction', [
      post(patient, {
        fullUrl: 'urn:uuid:7f4df7f4-9c4e-4d0b-8f43-0c2f8a6f2b90',
        ifNoneExist: `identifier=${MRN}|${wren.number}`,
      }),
      post(
        saturation({ reference: 'urn:uuid:7f4df7f4-9c4e-4d0b-8f43-0c2f8a6f2b90' }, 95, {
          effectiveDateTime: at,
          contained: [nurse],
          performer: [{ reference: '#nurse' }],
        }),
      ),
      post(
        temperature({ reference: `Patient?identifier=${MRN}|${wren.number}` }, 37.1, {
          effectiveDateTime: at,
        }),
      ),
    ]);
    expect(statuses(body)).toEqual(['200', '201', '201']);
    const first = await shown(body.entry?.[1]);
    expect(first.performer?.[0]?.identifier?.value).toBe('N-418');
    expect((await shown(body.entry?.[2])).subject?.reference).toBe(first.subject?.reference);
    // A second identifier, the birth date, came with the one and not with the other.
    expect(rulesOf(outcomeOf(body.entry?.[1]))).not.toContain('patient-single-identifier');
    expect(rulesOf(outcomeOf(body.entry?.[2]))).toContain('patient-single-identifier');
  });

  it('registers nobody: readings of an unknown Patient wait under its identifier', async () => {
    const patient = {
      resourceType: 'Patient',
      identifier: [{ system: MRN, value: 'FT-stranger' }],
      name: [{ family: 'Aldous' }],
      birthDate: '1967-03-21',
    };
    const fullUrl = 'urn:uuid:00000000-0000-4000-8000-000000000001';
    const { body } = await send('transaction', [
      post(patient, { fullUrl, ifNoneExist: `identifier=${MRN}|FT-stranger` }),
      post(saturation({ reference: fullUrl }, 95)),
    ]);
    expect(statuses(body)).toEqual(['200', '202']);
    expect(body.entry?.[0]?.response?.location).toBeUndefined();
    expect(rulesOf(outcomeOf(body.entry?.[1]))).toContain('patient-unknown');
    const found = await sender.ask<AnyBundle>(`/Patient?identifier=${MRN}%7CFT-stranger`);
    expect(found.body.entry ?? []).toEqual([]);
  });

  it('takes ifNoneExist entry by entry, and the same Bundle again as what it was', async () => {
    const at = minutesAgo(12);
    const sign = (resource: Json, value: string): Json =>
      post(
        { ...resource, effectiveDateTime: at, identifier: [{ system: 'urn:example:phd', value }] },
        { ifNoneExist: `identifier=urn:example:phd|${value}` },
      );
    const entries = [
      sign(saturation(byIdentifier(wren), 96), 'a'),
      sign(temperature(byIdentifier(wren), 36.9), 'b'),
    ];
    const first = await send('transaction', entries);
    expect(statuses(first.body)).toEqual(['201', '201']);
    const locations = ({ entry = [] }: AnyBundle): unknown[] =>
      entry.map(({ response }) => response?.location);
    const again = await send('transaction', entries);
    expect([statuses(again.body), locations(again.body)]).toEqual([
      ['200', '200'],
      locations(first.body),
    ]);
    const more = [...entries, sign(cuffPressure(byIdentifier(wren), 121, 77), 'c')];
    const third = await send('transaction', more);
    expect(statuses(third.body)).toEqual(['200', '200', '201']);
    const twice = await send<OperationOutcome>('transaction', [...entries, entries[0]]);
    expect([twice.status, codesOf(twice.body)]).toEqual([400, ['duplicate']]);
    const other = sign(saturation(byIdentifier(wren), 88), 'a');
    const changed = await send<OperationOutcome>('transaction', [other]);
    expect([changed.status, codesOf(changed.body)]).toEqual([409, ['duplicate']]);
  });

  it('is bounded in entries and bytes', async () => {
    const many = Array.from({ length: 201 }, () => post(saturation(byIdentifier(wren), 96)));
    expect((await send('transaction', many)).status).toBe(413);
    const large = post(
      saturation(byIdentifier(wren), 96, {
        language: 'en',
        text: { status: 'generated', div: 'x'.repeat(1024 * 1024) },
      }),
    );
    expect((await send('transaction', [large])).status).toBe(413);
  });

  it('shows resources where they are asked for, and says little where little is asked', async () => {
    const entry = (minutes: number): Json =>
      post(saturation({ ...byIdentifier(wren) }, 99, { effectiveDateTime: minutesAgo(minutes) }));
    const full = await send('transaction', [entry(14)], { prefer: 'return=representation' });
    expect(full.body.entry?.[0]?.resource).toMatchObject({ resourceType: 'Observation' });
    const little = await send('transaction', [entry(16)], { prefer: 'return=minimal' });
    expect(outcomeOf(little.body.entry?.[0])).toBeUndefined();
  });

  it('keeps a panel’s members, and refuses one whose members are elsewhere', async () => {
    const url = 'urn:uuid:00000000-0000-4000-8000-000000000002';
    const panel = (reference: string): Json => ({
      resourceType: 'Observation',
      status: 'final',
      code: coded('http://loinc.org', '85353-1'),
      subject: byIdentifier(wren),
      effectiveDateTime: minutesAgo(18),
      hasMember: [{ reference }],
    });
    const member = post(saturation(byIdentifier(wren), 97, { effectiveDateTime: minutesAgo(18) }), {
      fullUrl: url,
    });
    const { body } = await send('transaction', [post(panel(url)), member]);
    expect(statuses(body)).toEqual(['200', '201']);
    const bad = await send<OperationOutcome>('transaction', [post(panel('Observation/1')), member]);
    expect([bad.status, bad.body.issue[0]?.expression]).toEqual([
      422,
      ['Bundle.entry[0].resource.hasMember[0]'],
    ]);
  });
});

describe('a batch', () => {
  it('takes each entry by itself, beside registrations, and checks each against the scopes', async () => {
    const number = 'FT-batch';
    const registration = {
      request: { method: 'PUT', url: `Patient?identifier=${MRN}|${number}` },
      resource: {
        resourceType: 'Patient',
        identifier: [{ system: MRN, value: number }],
        name: [{ family: 'Bergmann' }],
        gender: 'male',
        birthDate: '1980-01-01',
      },
    };
    const entries = [
      post(saturation(byIdentifier({ number, birthDate: '' }), 96)),
      registration,
      post({ ...saturation(byIdentifier(wren), 96), colour: 1 }),
      post(temperature(byIdentifier(wren), 5)),
      post(saturation({ reference: 'urn:uuid:1' }, 96), { fullUrl: 'urn:uuid:2' }),
      { request: { method: 'GET', url: 'Observation' } },
    ];
    const both = await FhirSender.of(gateway, 'system/Observation.c system/Patient.cu');
    const { status, body } = await both.post<AnyBundle>('', {
      resourceType: 'Bundle',
      type: 'batch',
      entry: entries,
    });
    expect([status, body.type, bundleFaults(body)]).toEqual([200, 'batch-response', []]);
    expect(statuses(body)).toEqual(['201', '201', '400', '422', '422', '405']);
    const { body: lesser } = await send('batch', entries.slice(0, 2));
    expect(statuses(lesser)).toEqual(['200', '403']);
  });

  it('refuses one whose condition does not hold, and takes the rest', async () => {
    const at = minutesAgo(20);
    const sign = (value: number): Json =>
      post(
        saturation(byIdentifier(wren), value, {
          effectiveDateTime: at,
          identifier: [{ system: 'urn:example:phd', value: 'batch' }],
        }),
        { ifNoneExist: 'identifier=urn:example:phd|batch' },
      );
    expect(statuses((await send('batch', [sign(97)])).body)).toEqual(['201']);
    const fresh = post(temperature(byIdentifier(wren), 36.8, { effectiveDateTime: at }));
    const { body } = await send('batch', [sign(90), fresh]);
    expect(statuses(body)).toEqual(['409', '201']);
  });
});
