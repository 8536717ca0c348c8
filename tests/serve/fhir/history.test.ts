import type { OperationOutcome } from 'fhir/r4.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { FhirFixture, observationsIn } from './fhir-fixture.js';
import type { AnyBundle } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

function versionsIn(...bundles: AnyBundle[]): string[] {
  return observationsIn(bundles).map(({ meta }) => meta?.versionId ?? '');
}

describe('the history of one Observation', () => {
  it('has its published versions, newest first, each as it was asked for and answered', async () => {
    const patient = await fhir.addPatient('history-1');
    const id = await fhir.addReading(patient, { verdict: 'held', hold: 'value', status: null });
    await fhir.change(id, { status: 'preliminary' });
    await fhir.change(id, { status: 'final', hold: null, amount: '70' });
    await fhir.change(id, { status: 'entered-in-error' });
    const { status, body } = await fhir.ask<AnyBundle>(`Observation/${id}/_history`);
    expect(status).toBe(200);
    expect(bundleFaults(body)).toEqual([]);
    expect(body.total).toBe(3);
    expect(
      body.entry?.map(({ fullUrl, request, response }) => ({ fullUrl, request, response })),
    ).toEqual(
      [
        ['4', 'PUT', `Observation/${id}`, '200 OK'],
        ['3', 'PUT', `Observation/${id}`, '200 OK'],
        ['2', 'POST', 'Observation', '201 Created'],
      ].map(([version = '', method, url, answered]) => ({
        fullUrl: `${fhir.url}/fhir/Observation/${id}`,
        request: { method, url },
        response: {
          status: answered,
          etag: `W/"${version}"`,
          lastModified: expect.stringMatching(/^\d{4}-.*Z$/) as string,
        },
      })),
    );
  });

  it('is paged, and the pages are those of its state at the first one', async () => {
    const id = await fhir.addReading(await fhir.addPatient('history-2'));
    for (let i = 0; i < 4; i += 1) await fhir.change(id, { amount: String(61 + i) });
    const change = (): Promise<void> => fhir.change(id, { amount: '90' });
    const bundles = await fhir.pages(`Observation/${id}/_history?_count=2`, change);
    expect(versionsIn(...bundles)).toEqual(['5', '4', '3', '2', '1']);
  });

  it('has only versions from _since on', async () => {
    const id = await fhir.addReading(await fhir.addPatient('history-3'));
    await fhir.change(id, { amount: '61' });
    const { body } = await fhir.ask<AnyBundle>(`Observation/${id}/_history`);
    const [newest, first] = observationsIn([body]).map(({ meta }) => meta?.lastUpdated ?? '');
    const since = async (instant = ''): Promise<string[]> =>
      versionsIn(...(await fhir.pages(`Observation/${id}/_history?_since=${instant}`)));
    expect(await since(first)).toEqual(['2', '1']);
    expect(await since(newest)).toEqual(['2']);
    expect(await since('2999-01-01T00:00:00Z')).toEqual([]);
  });
});

describe('the history of all Observations', () => {
  it('conforms, and sorts the versions of one commit in one way', async () => {
    const patient = await fhir.addPatient('history-4');
    const ids = await fhir.addReadings(patient, [{}, {}, {}]);
    await fhir.change(ids[0] ?? '', { amount: '60' });
    const { body } = await fhir.ask<AnyBundle>('Observation/_history?_count=4');
    expect(bundleFaults(body)).toEqual([]);
    expect(observationsIn([body]).map(({ id, meta }) => [id, meta?.versionId])).toEqual([
      [ids[0], '2'],
      ...[...ids]
        .sort()
        .reverse()
        .map((id) => [id, '1']),
    ]);
  });

  it.each([
    ['_since=2026-02-30T00:00:00Z', 'value'],
    ['_since=2026-03-01T00:00:00 01:00', 'value'],
    ['_since=gt2026-03-01T00:00:00Z', 'value'],
    ['_since=2026-03-01T00:00:00Z,2027', 'value'],
    ['_count=0', 'not-supported'],
    ['_sort=date', 'not-supported'],
    ['_at=2026', 'not-supported'],
    ['patient=x', 'not-supported'],
  ])('refuses %s', async (query, code) => {
    const { status, body } = await fhir.ask<OperationOutcome>(`Observation/_history?${query}`);
    expect([status, body.issue[0]?.code]).toEqual([400, code]);
  });
});
