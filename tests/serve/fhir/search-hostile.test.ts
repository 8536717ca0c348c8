import { FhirFixture, idsIn } from './fhir-fixture.js';
import type { AnyBundle, Answer } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

async function refused(query: string): Promise<(number | string | undefined)[]> {
  const { status, body } = await fhir.ask(`Observation?${query}`);
  const [issue] = body.resourceType === 'OperationOutcome' ? body.issue : [];
  return [status, issue?.code, issue?.expression?.[0]];
}

describe('hostile values', () => {
  it.each([
    'date=2026-02-30',
    'date=2026-13-01',
    'date=2026-03-01T25:00:00Z',
    'date=2026-03-01T10:00:00+99:00',
    'date=yesterday',
    'date=zz2026-03-01',
    'date=0000',
    'date=',
    '_lastUpdated=gt',
    'code=%00',
    'patient=%00',
    '_id=%1f',
    '_id=%ff',
    'identifier=a%0Db',
    '_page=x',
    '_page=AAAA',
  ])('are refused with 400: %s', async (query) => {
    const [status, code] = await refused(query);
    expect([status, code === 'value' || code === 'invalid']).toEqual([400, true]);
  });

  it.each([
    "patient=' or 1=1 --",
    "_id=0197f3c0-0000-7000-8000-000000000001'; drop table readings; --",
    "code=8867-4' or '1'='1",
    "status=final'",
    'identifier=urn:uuid:$1#1',
    `_id=${'a'.repeat(3000)}`,
  ])('find nothing: %s', async (query) => {
    const [name = '', value = ''] = query.split(/=(.*)/s, 2);
    const { status, body } = await fhir.ask<AnyBundle>(
      `Observation?${new URLSearchParams({ [name]: value }).toString()}`,
    );
    expect([status, idsIn(body)]).toEqual([200, []]);
  });

  it('are refused when there are too many', async () => {
    expect(await refused('code=1&'.repeat(101).slice(0, -1))).toEqual([
      400,
      'too-costly',
      undefined,
    ]);
    const { status } = await fhir.ask('Observation/_search', {
      method: 'POST',
      body: new URLSearchParams({ _id: 'a'.repeat(70_000) }),
    });
    expect(status).toBe(413);
  });

  it('take a thousand alternatives and no more', async () => {
    const patient = await fhir.addPatient('alternatives');
    const id = await fhir.addReading(patient);
    const list = (length: number, value: string): string =>
      Array.from({ length }, () => value).join(',');
    const search = (query: string): Promise<Answer<AnyBundle>> =>
      fhir.ask<AnyBundle>('Observation/_search', {
        method: 'POST',
        body: new URLSearchParams(query),
      });
    const most = await search(`patient=${patient.id}&date=${list(999, '2026-03-01')}`);
    expect(idsIn(most.body)).toEqual([id]);
    const more = await search(`patient=${patient.id}&date=${list(1000, '2026')}`);
    expect(more.status).toBe(400);
    expect(idsIn((await search(`_id=${id}&code=${list(900, 'x')},8867-4`)).body)).toEqual([id]);
  });
});
