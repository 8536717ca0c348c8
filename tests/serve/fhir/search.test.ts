import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { FhirFixture, idsIn, outcomesIn } from './fhir-fixture.js';
import type { AnyBundle, ReadingWords, TestPatient } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

const CATEGORY = 'http://terminology.hl7.org/CodeSystem/observation-category';
let patients = 0;

async function patientWith(readings: Readonly<Record<string, ReadingWords>>): Promise<{
  patient: TestPatient;
  found: (query: string) => Promise<string[]>;
}> {
  patients += 1;
  const patient = await fhir.addPatient(`search-${patients}`);
  const names = Object.keys(readings);
  const ids = await fhir.addReadings(patient, Object.values(readings));
  return {
    patient,
    found: async (query) => {
      const bundles = await fhir.pages(`Observation?patient=${patient.id}&${query}`);
      return idsIn(...bundles)
        .map((id) => names[ids.indexOf(id)] ?? id)
        .sort();
    },
  };
}

async function refused(query: string, headers = {}): Promise<(number | string | undefined)[]> {
  const { status, body } = await fhir.ask(`Observation?${query}`, { headers });
  const [issue] = body.resourceType === 'OperationOutcome' ? body.issue : [];
  return [status, issue?.code, issue?.expression?.[0]];
}

describe('what matches', () => {
  it('finds by patient and subject, in each form of a reference, and nobody else', async () => {
    const { patient } = await patientWith({ mine: {} });
    await patientWith({ other: {} });
    for (const value of [
      patient.id,
      `Patient/${patient.id}`,
      `${fhir.url}/fhir/Patient/${patient.id}`,
    ]) {
      for (const name of ['patient', 'subject']) {
        const { body } = await fhir.ask<AnyBundle>(`Observation?${name}=${value}`);
        expect([name, value, idsIn(body).length, body.total]).toEqual([name, value, 1, 1]);
      }
    }
    for (const value of ['0197f3c0-0000-7000-8000-000000000001', 'nobody', 'Device/1']) {
      const { status, body } = await fhir.ask<AnyBundle>(`Observation?patient=${value}`);
      expect([status, idsIn(body), body.total]).toEqual([200, [], 0]);
    }
  });

  // The search combinations of the R4 vital-signs page (§10.1.20) and of US Core 9.0.0.
  it('takes repetition as and, commas as or', async () => {
    const { found } = await patientWith({
      pulse: { at: '2026-03-01T08:00:00Z' },
      breaths: { vital: 'respiratory-rate', amount: '18', at: '2026-03-02T08:00:00Z' },
      weight: {
        vital: 'body-weight',
        amount: '70.5',
        at: '2026-03-03T08:00:00Z',
        status: 'corrected',
      },
    });
    expect(await found('category=vital-signs')).toEqual(['breaths', 'pulse', 'weight']);
    expect(await found(`category=${CATEGORY}|vital-signs`)).toHaveLength(3);
    expect(await found('category=laboratory')).toEqual([]);
    expect(await found('category=laboratory,vital-signs')).toHaveLength(3);
    expect(await found('code=8867-4,29463-7')).toEqual(['pulse', 'weight']);
    expect(await found('code=http://loinc.org|9279-1')).toEqual(['breaths']);
    expect(await found('code=http://snomed.info/sct|9279-1')).toEqual([]);
    expect(await found('code=|9279-1')).toEqual([]);
    expect(await found('code=http://loinc.org|')).toHaveLength(3);
    expect(await found('code=8867-4&code=29463-7')).toEqual([]);
    expect(
      await found('category=vital-signs&date=ge2026-03-02T00:00:00Z&date=lt2026-03-03T00:00:00Z'),
    ).toEqual(['breaths']);
    expect(await found('category=vital-signs&status=final')).toEqual(['breaths', 'pulse']);
    expect(await found('status=amended,corrected,entered-in-error')).toEqual(['weight']);
    expect(await found('status=http://hl7.org/fhir/observation-status|corrected')).toEqual([
      'weight',
    ]);
    expect(await found('status=registered')).toEqual([]);
    expect(await found('code=8867-4&date=2026-03-01')).toEqual(['pulse']);
  });

  it('finds a part of a pressure by combo-code only, and a mean only where there is one', async () => {
    const cuff = { vital: 'blood-pressure', method: 'oscillometry', systolic: '131' } as const;
    const { found } = await patientWith({
      plain: { ...cuff, diastolic: '78' },
      mean: { ...cuff, diastolic: '78', mean: '96' },
      refused: { vital: 'blood-pressure', absent: 'refused', status: 'cancelled' },
    });
    expect(await found('code=8480-6')).toEqual([]);
    expect(await found('code=85354-9')).toHaveLength(3);
    expect(await found('combo-code=85354-9')).toHaveLength(3);
    expect(await found('combo-code=8480-6')).toHaveLength(3);
    expect(await found('combo-code=8478-0')).toEqual(['mean']);
  });

  it('tells by tag why an Observation is preliminary', async () => {
    const { found } = await patientWith({
      settled: {},
      doubted: { status: 'preliminary', verdict: 'held', hold: 'value' },
      unseen: { status: 'preliminary' },
      withdrawn: { status: 'entered-in-error', verdict: 'held' },
    });
    expect(await found('_tag=unconfirmed')).toEqual(['doubted']);
    expect(await found('_tag=urn:vital-sign-gateway:tag|unreviewed')).toEqual(['unseen']);
    expect(await found('_tag=unreviewed,unconfirmed')).toEqual(['doubted', 'unseen']);
    expect(await found('_tag=other')).toEqual([]);
  });

  it('tells by tag what a device said of its signal, and who reviewed it', async () => {
    const { patient, found } = await patientWith({
      plain: { status: 'preliminary', amount: '71' },
      doubtful: { status: 'preliminary', amount: '72' },
      reviewed: { status: 'preliminary', amount: '73' },
      sound: { status: 'preliminary', amount: '74' },
      released: { status: 'final', amount: '75' },
    });
    const reports = [
      [72, { at: 'OBX 1', signal: ['questionable'] }],
      [73, { at: 'OBX 1', signal: ['early'], reviewed: true }],
      [74, { at: 'OBX 1', signal: [], reviewed: false }],
      [75, { at: 'OBX 1', signal: ['early'], reviewed: true }],
    ] as const;
    for (const [amount, report] of reports) {
      await fhir.database.pool.query(
        'update readings set report = $3 where patient_key = $1 and amount = $2',
        [patient.key, amount, report],
      );
    }
    expect(await found('_tag=doubtful-signal')).toEqual(['doubtful', 'reviewed']);
    expect(await found('_tag=unreviewed')).toEqual(['doubtful', 'plain', 'sound']);
  });

  it('finds by id', async () => {
    const { patient } = await patientWith({});
    const [one = '', two = ''] = await fhir.addReadings(patient, [{}, {}, {}]);
    const { body } = await fhir.ask<AnyBundle>(`Observation?_id=${one},${two},nonsense`);
    expect(idsIn(body).sort()).toEqual([one, two].sort());
  });

  it('finds by the identifier that the Observation carries, unless it is another system', async () => {
    const patient = await fhir.addPatient('identifier');
    const setId = '7a3c9a34-54a4-4b6b-9d0c-2f0d6f1f8a11';
    const ids = await fhir.addReadings(patient, [{ setId }, { setId }, { setId }]);
    const [first = '', second = ''] = ids;
    await fhir.database.pool.query(
      `insert into submissions (submission_id, source_key, client_key, received_at, kind, content_type,
         set_id, holds_key, byte_length, sha256, body, status, answer, edition)
       values ($1, 1, 1, now(), 'set', 'application/json', $2, true, 0, '', '', 201, '', 1)`,
      [`${first.slice(0, -4)}0000`, setId],
    );
    const { body: shown } = await fhir.ask<AnyBundle>(`Observation?_id=${second}`);
    const [entry] = shown.entry ?? [];
    const observation = entry?.resource?.resourceType === 'Observation' ? entry.resource : null;
    const { system = '', value = '' } = observation?.identifier?.[0] ?? {};
    const find = async (token: string): Promise<string[]> => {
      const query = new URLSearchParams({ identifier: token }).toString();
      return idsIn((await fhir.ask<AnyBundle>(`Observation?${query}`)).body);
    };
    expect(await find(`${system}|${value}`)).toEqual([second]);
    expect(await find(value)).toEqual([second]);
    expect(await find(`urn:other|${value}`)).toEqual([]);
    expect(await find(`urn:uuid:${setId}#9`)).toEqual([]);
    expect(await find(`urn:uuid:${setId}`)).toEqual([]);
  });
});

describe('escapes (R4 §3.1.1.4.19)', () => {
  it('takes an escaped comma or bar as part of the value', async () => {
    const { found } = await patientWith({ pulse: {} });
    expect(await found('code=8867-4\\,9279-1')).toEqual([]);
    expect(await found('code=http://loinc.org\\|8867-4')).toEqual([]);
    expect(await found('code=a\\\\,8867-4')).toEqual(['pulse']);
  });

  it.each([
    ['code=a\\b', 'code'],
    ['code=a\\', 'code'],
    ['code=a|b|c', 'code'],
    ['code=|', 'code'],
    ['code=', 'code'],
    ['code=8867-4,', 'code'],
    ['status=final,,amended', 'status'],
  ])('refuses %s', async (query, name) => {
    expect(await refused(query)).toEqual([400, 'value', `http.${name}`]);
  });
});

describe('what is not offered', () => {
  it('is refused when the answer would be wider without it', async () => {
    for (const name of ['value-string', 'patient.name', '_has:Patient:x:y', '_text']) {
      const [status, code] = await refused(`${name}=1`);
      expect([name, status, code]).toEqual([name, 400, 'not-supported']);
    }
  });

  it('is passed over, and said so, when it only shapes the answer', async () => {
    const { patient } = await patientWith({ one: {} });
    const query = `Observation?_include=Observation:specimen&patient=${patient.id}`;
    const { status, body } = await fhir.ask<AnyBundle>(query);
    expect(status).toBe(200);
    expect(idsIn(body)).toHaveLength(1);
    expect(outcomesIn(body)[0]?.issue).toContainEqual(
      expect.objectContaining({ severity: 'warning', expression: ['http._include'] }),
    );
    expect(body.link?.[0]).toEqual({
      relation: 'self',
      url: `${fhir.url}/fhir/Observation?patient=${patient.id}`,
    });
    const strict = { Prefer: 'handling=strict' };
    expect(await refused(query.split('?')[1] ?? '', strict)).toEqual([
      400,
      'not-supported',
      'http._include',
    ]);
  });

  it('is passed over under lenient handling, and the self link leaves it out', async () => {
    const { patient } = await patientWith({ one: {} });
    const { status, body } = await fhir.ask<AnyBundle>(
      `Observation?patient=${patient.id}&colour=red&code=8867-4`,
      { headers: { Prefer: 'return=minimal; x, handling=lenient' } },
    );
    expect(status).toBe(200);
    expect(body.link?.[0]?.url).toBe(
      `${fhir.url}/fhir/Observation?patient=${patient.id}&code=8867-4`,
    );
    expect(outcomesIn(body)[0]?.issue[1]?.expression).toEqual(['http.colour']);
  });

  it('is refused whatever the handling when it is a modifier', async () => {
    for (const handling of ['strict', 'lenient']) {
      const headers = { Prefer: `handling=${handling}` };
      for (const name of ['code:not', 'patient:Group', 'status:missing', 'date:x']) {
        expect(await refused(`${name}=1`, headers)).toEqual([400, 'code-invalid', `http.${name}`]);
      }
    }
  });

  it.each([
    '_sort=value',
    '_sort=date,-date',
    '_sort=date,',
    '_sort=--date',
    '_sort=__proto__',
    '_sort=-constructor',
    '_count=-1',
    '_count=1.5',
    '_count=many',
    '_count=5&_count=6',
    '_total=all',
    '_summary=all',
    '_elements=status,',
    '_elements=a.b',
  ])('is refused as a value: %s', async (query) => {
    const [status, code, expression] = await refused(query);
    expect([status, code, expression]).toEqual([400, 'value', `http.${query.split('=')[0] ?? ''}`]);
  });
});

describe('the shape of the answer', () => {
  it('conforms to R4, first page and last, with what is held back and what was passed over', async () => {
    const { patient } = await patientWith({
      pulse: {},
      pressure: { vital: 'blood-pressure', systolic: '124', diastolic: '80' },
      held: { verdict: 'held', hold: 'unit', status: null },
    });
    const path = `Observation?patient=${patient.id}&_count=1&_include=Observation:specimen&_total=accurate`;
    const bundles = await fhir.pages(path);
    expect(bundles.map(({ total }) => total)).toEqual([2, 2]);
    for (const bundle of bundles) expect(bundleFaults(bundle)).toEqual([]);
  });

  it('sorts as asked, and by itself newest measurement first for a patient', async () => {
    const { patient } = await patientWith({});
    const at = (hour: number): ReadingWords => ({ at: `2026-03-01T0${hour}:00:00Z` });
    const late = await fhir.addReading(patient, at(9));
    const early = await fhir.addReading(patient, at(1));
    const middle = await fhir.addReading(patient, at(5));
    const order = async (sort: string): Promise<string[]> =>
      idsIn((await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}${sort}`)).body);
    expect(await order('')).toEqual([late, middle, early]);
    expect(await order('&_sort=date')).toEqual([early, middle, late]);
    expect(await order('&_sort=-date')).toEqual([late, middle, early]);
    expect(await order('&_sort=_lastUpdated')).toEqual([late, early, middle]);
    expect(await order('&_sort=-_lastUpdated')).toEqual([middle, early, late]);
    expect(await order('&_sort=_id')).toEqual([late, early, middle].sort());
    expect(await order('&_sort=-_id')).toEqual([late, early, middle].sort().reverse());
  });

  it('gives a total when it is asked for, or when one page is all', async () => {
    const { patient } = await patientWith({ a: {}, b: {}, c: {} });
    const total = async (query: string): Promise<[number | undefined, number]> => {
      const { body } = await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}${query}`);
      return [body.total, idsIn(body).length];
    };
    expect(await total('')).toEqual([3, 3]);
    expect(await total('&_count=2')).toEqual([undefined, 2]);
    expect(await total('&_count=2&_total=accurate')).toEqual([3, 2]);
    expect(await total('&_count=2&_total=estimate')).toEqual([3, 2]);
    expect(await total('&_count=3')).toEqual([3, 3]);
    expect(await total('&_count=0')).toEqual([3, 0]);
    expect(await total('&_summary=count')).toEqual([3, 0]);
  });

  it('lowers a count that is too great, and says so', async () => {
    const { patient } = await patientWith({ a: {} });
    for (const count of ['1001', '99999999999999999999']) {
      const { body } = await fhir.ask<AnyBundle>(
        `Observation?patient=${patient.id}&_count=${count}`,
      );
      expect(body.link?.[0]?.url).toMatch(/_count=1000$/);
    }
  });

  it('gives the same by POST, with links that GET can follow', async () => {
    const { patient } = await patientWith({ a: {}, b: {} });
    const { status, body } = await fhir.ask<AnyBundle>('Observation/_search?code=8867-4', {
      method: 'POST',
      body: new URLSearchParams({ patient: patient.id, _count: '1' }),
    });
    expect(status).toBe(200);
    const next = body.link?.find(({ relation }) => relation === 'next')?.url ?? '';
    const { body: second } = await fhir.ask<AnyBundle>(next);
    expect(new Set(idsIn(body, second)).size).toBe(2);
    expect(body.link?.[0]?.url).toContain(`code=8867-4&patient=${patient.id}`);
  });
});

describe('what is held back', () => {
  it('is counted on the first page by patient, code, category and date, and never shown', async () => {
    const held = { verdict: 'held', hold: 'value', status: null } as const;
    const { patient } = await patientWith({
      shown: { at: '2026-03-01T08:00:00Z' },
      shown2: { at: '2026-03-01T08:00:00Z' },
      pulse: { ...held, at: '2026-03-01T08:00:00Z', amount: '188' },
      breaths: { ...held, vital: 'respiratory-rate', amount: '44', at: '2026-03-02T08:00:00Z' },
      out: { verdict: 'held', hold: 'value', status: 'preliminary' },
      rejected: { verdict: 'rejected', status: null },
    });
    const count = async (query: string): Promise<(string | undefined)[]> => {
      const { body } = await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}${query}`);
      const [outcome] = outcomesIn(body);
      const [issue] = outcome?.issue ?? [];
      expect(body.entry?.at(-1)?.search?.mode).toBe('outcome');
      return [issue?.severity ?? '', issue?.code ?? '', issue?.diagnostics];
    };
    const held2 = (n: number): unknown => ['information', 'suppressed', `held=${n}`];
    expect(await count('')).toEqual(held2(2));
    expect(await count('&code=8867-4')).toEqual(held2(1));
    expect(await count('&category=vital-signs&date=2026-03-02')).toEqual(held2(1));
    expect(await count('&category=laboratory')).toEqual(held2(0));
    // These are about what only an Observation has.
    expect(await count('&status=final&_tag=unreviewed&_lastUpdated=gt2100')).toEqual(held2(2));
    expect(await count('&_summary=count')).toEqual(held2(2));

    const bundles = await fhir.pages(`Observation?patient=${patient.id}&_count=1`);
    expect(bundles.map((bundle) => outcomesIn(bundle).length)).toEqual([1, 0, 0]);
    expect(JSON.stringify(bundles)).not.toMatch(/188|"value":44/);
  });

  it('ends when it is published or decided', async () => {
    const { patient } = await patientWith({});
    const id = await fhir.addReading(patient, { verdict: 'held', hold: 'value', status: null });
    const other = await fhir.addReading(patient, { verdict: 'held', hold: 'value', status: null });
    await fhir.change(id, { status: 'preliminary' });
    await fhir.change(other, { verdict: 'rejected', hold: null });
    const { body } = await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}`);
    expect(outcomesIn(body)[0]?.issue[0]?.diagnostics).toBe('held=0');
  });
});
