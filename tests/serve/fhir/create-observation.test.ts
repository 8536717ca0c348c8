import type { Observation, OperationOutcome } from 'fhir/r4.js';
import { MRN, minutesAgo, registerPatient } from '../../setup/example-sets.js';
import type { TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import {
  FhirSender,
  byIdentifier,
  coded,
  quantity,
  saturation,
  temperature,
} from './sent-observations.js';

let gateway: TestGateway;
let sender: FhirSender;
let analyst: string;
let wren: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await FhirSender.of(gateway);
  analyst = await gateway.token('review.read');
  wren = await registerPatient(gateway, 'FI-1');
});
afterAll(() => gateway.close());

const codesOf = ({ issue }: OperationOutcome): string[] => issue.map(({ code }) => code);
const rulesOf = ({ issue }: OperationOutcome): (string | undefined)[] =>
  issue.map(({ details }) => details?.coding?.[0]?.code);

/** The newest submission as the analyst sees it. */
async function lastSubmission(): Promise<{ raw: string }> {
  const { body } = await gateway.ask<{ submissions: { submission: string }[] }>(
    '/review/submissions?limit=1',
    { token: analyst },
  );
  const [newest] = body.submissions;
  const raw = await gateway.ask(`/review/submissions/${newest?.submission ?? ''}/raw`, {
    token: analyst,
  });
  return { raw: raw.text };
}

describe('POST /fhir/Observation', () => {
  it('answers 201 with place, version and resource, as R4 §3.1.0.8 asks', async () => {
    const sent = saturation(byIdentifier(wren), 96);
    const { status, headers, body } = await sender.post<Observation>('/Observation', sent);
    expect(status).toBe(201);
    expect(body).toMatchObject({
      resourceType: 'Observation',
      status: 'final',
      valueQuantity: { value: 96, code: '%' },
      device: { identifier: { value: 'OX-12' } },
      method: { text: 'Pulse oximetry' },
    });
    const location = headers.get('location') ?? '';
    expect(location).toBe(`${gateway.url}/fhir/Observation/${body.id ?? ''}/_history/1`);
    expect(headers.get('etag')).toBe('W/"1"');
    expect(Date.parse(headers.get('last-modified') ?? '')).toBeGreaterThan(Date.now() - 60_000);
    expect((await sender.ask<Observation>(location)).body).toEqual(body);
  });

  it('keeps the digits of a decimal, also its last zeros', async () => {
    const rest = JSON.stringify(temperature(byIdentifier(wren), 0, { valueQuantity: undefined }));
    const text = `${rest.slice(0, -1)},"valueQuantity":{"value":36.50,"unit":"C","system":"http://unitsofmeasure.org","code":"Cel"}}`;
    const { status, text: shown } = await sender.post('/Observation', text);
    expect(status).toBe(201);
    expect(shown).toContain('"value":36.50');
  });

  it('takes a subject by id, and refuses one that leads nowhere', async () => {
    const found = await sender.ask<{ entry: { resource: { id: string } }[] }>(
      `/Patient?identifier=${MRN}%7C${wren.number}`,
    );
    const id = found.body.entry[0]?.resource.id ?? '';
    const good = await sender.post<Observation>(
      '/Observation',
      saturation({ reference: `Patient/${id}` }, 95, { effectiveDateTime: minutesAgo(5) }),
    );
    expect([good.status, good.body.subject?.reference]).toEqual([201, `Patient/${id}`]);
    const none = saturation({ reference: 'Patient/0197a000-0000-7000-8000-00000000ffff' }, 95);
    const bad = await sender.post<OperationOutcome>('/Observation', none);
    expect([bad.status, codesOf(bad.body)]).toEqual([422, ['not-found']]);
    expect(bad.body.issue[0]?.expression).toEqual(['Observation.subject']);
  });

  it('answers as Prefer asks', async () => {
    const one = (minutes: number): object =>
      saturation(byIdentifier(wren), 96, { effectiveDateTime: minutesAgo(minutes) });
    const minimal = await sender.post('/Observation', one(7), { prefer: 'return=minimal' });
    expect([minimal.status, minimal.text, minimal.headers.get('etag')]).toEqual([201, '', 'W/"1"']);
    const outcome = await sender.post<OperationOutcome>('/Observation', one(8), {
      prefer: 'return=OperationOutcome',
    });
    expect(outcome.status).toBe(201);
    expect(outcome.body.resourceType).toBe('OperationOutcome');
    expect(outcome.headers.get('location')).toContain('/fhir/Observation/');
  });

  it('publishes a critical value of a known patient at once, and says why it is doubted', async () => {
    const { status, headers, body } = await sender.post<OperationOutcome>(
      '/Observation',
      saturation(byIdentifier(wren), 71, { effectiveDateTime: minutesAgo(9) }),
      { prefer: 'return=OperationOutcome' },
    );
    expect(status).toBe(201);
    expect(headers.get('location')).toContain('/fhir/Observation/');
    expect(rulesOf(body)).toContain('value-critical');
  });

  it('answers 202 without Location for a patient whom nobody has registered', async () => {
    const stranger = { number: 'FI-nobody', birthDate: '1990-01-01' };
    const component = [
      { code: coded('http://loinc.org', '3151-8'), valueQuantity: quantity(2, 'L/min') },
    ];
    const { status, headers, body } = await sender.post<OperationOutcome>(
      '/Observation',
      saturation(byIdentifier(stranger), 97, { component }),
    );
    expect([status, headers.get('location')]).toEqual([202, null]);
    // Once, though two readings came of it.
    expect(rulesOf(body).filter((rule) => rule === 'patient-unknown')).toHaveLength(1);
    expect(body.issue.map(({ severity }) => severity)).not.toContain('error');
  });

  it('answers 422 for what the rules reject, and keeps it for the analyst', async () => {
    const sent = saturation(byIdentifier(wren), 140, { effectiveDateTime: minutesAgo(11) });
    const { status, headers, body } = await sender.post<OperationOutcome>('/Observation', sent);
    expect([status, headers.get('location')]).toEqual([422, null]);
    expect(rulesOf(body)).toContain('value-impossible');
    expect(JSON.parse((await lastSubmission()).raw)).toEqual(sent);
  });

  it.each([
    ['not JSON', '{"resourceType":"Observation",', 400, 'structure'],
    [
      'not FHIR',
      { resourceType: 'Observation', status: 'final', colour: 'blue' },
      400,
      'structure',
    ],
    ['another resource', { resourceType: 'Patient' }, 400, 'structure'],
    ['a code that nobody knows', { code: coded('urn:example:local', 'X1') }, 422, 'code-invalid'],
    ['a text for a value', { valueQuantity: undefined, valueString: 'low' }, 422, 'not-supported'],
    [
      'a modifier extension',
      { modifierExtension: [{ url: 'urn:x:y', valueBoolean: true }] },
      422,
      'extension',
    ],
    [
      'an unknown extension',
      { extension: [{ url: 'urn:x:y', valueBoolean: true }] },
      422,
      'extension',
    ],
    [
      'a place that is no known place',
      { bodySite: coded('http://snomed.info/sct', '1') },
      422,
      'code-invalid',
    ],
    [
      'a laboratory category',
      {
        category: [
          coded('http://terminology.hl7.org/CodeSystem/observation-category', 'laboratory'),
        ],
      },
      422,
      'code-invalid',
    ],
    [
      'an error of what was never sent',
      { status: 'entered-in-error', effectiveDateTime: '2026-01-02T03:04:05Z' },
      422,
      'not-found',
    ],
    ['a time without an offset', { effectiveDateTime: '2026-03-01T08:15:00' }, 400, 'value'],
  ])('refuses by name, and keeps, %s', async (_what, change, expected, code) => {
    const isWhole = typeof change === 'string' || 'resourceType' in change;
    const sent = isWhole ? change : saturation(byIdentifier(wren), 96, change);
    const { status, body } = await sender.post<OperationOutcome>('/Observation', sent);
    expect([status, body.issue[0]?.code]).toEqual([expected, code]);
    const { raw } = await lastSubmission();
    expect(raw).toBe(typeof sent === 'string' ? sent : JSON.stringify(sent));
  });

  it('asks for its scope, and for FHIR JSON', async () => {
    const sent = saturation(byIdentifier(wren), 96);
    const reader = await FhirSender.of(gateway, 'system/Observation.rs');
    expect((await reader.post('/Observation', sent)).status).toBe(403);
    const xml = { 'content-type': 'application/fhir+xml' };
    expect((await sender.post('/Observation', '<x/>', xml)).status).toBe(415);
    const old = { 'content-type': 'application/fhir+json; fhirVersion=3.0' };
    expect((await sender.post('/Observation', sent, old)).status).toBe(415);
    expect((await sender.post('/Observation', sent, { accept: 'text/html' })).status).toBe(406);
    const large = { note: [{ text: 'x'.repeat(1024 * 1024) }] };
    const tooLarge = await sender.post<OperationOutcome>(
      '/Observation',
      saturation(byIdentifier(wren), 96, large),
    );
    expect([tooLarge.status, codesOf(tooLarge.body)]).toEqual([413, ['too-long']]);
  });

  it('marks as unreviewed what comes from a source that nobody attends', async () => {
    const monitors = await FhirSender.of(gateway, 'system/Observation.c', {
      name: 'fhir monitors',
      attended: false,
    });
    const { status, body } = await monitors.post<Observation>(
      '/Observation',
      saturation(byIdentifier(wren), 98, { effectiveDateTime: minutesAgo(13) }),
    );
    expect([status, body.status, body.meta?.tag?.[0]?.code]).toEqual([
      201,
      'preliminary',
      'unreviewed',
    ]);
  });
});

it('takes oxygen that stands in components as Observations of their own', async () => {
  const component = [
    { code: coded('http://loinc.org', '3151-8'), valueQuantity: quantity(2, 'L/min') },
  ];
  const { status, body } = await sender.post<OperationOutcome>(
    '/Observation',
    saturation(byIdentifier(wren), 93, { component, effectiveDateTime: minutesAgo(23) }),
    { prefer: 'return=OperationOutcome' },
  );
  expect(status).toBe(201);
  const id = /Observation\/([-0-9a-f]{36})/.exec(JSON.stringify(body))?.[1] ?? '';
  const flow = await sender.ask<Observation>(`/Observation/${id}`);
  expect(flow.body).toMatchObject({
    code: { coding: [{ code: '3151-8' }] },
    valueQuantity: { value: 2, code: 'L/min' },
  });
});
