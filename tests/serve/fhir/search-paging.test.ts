import type { OperationOutcome } from 'fhir/r4.js';
import { bindingOf, writePageStart } from '../../../src/serve/fhir/paging.js';
import { FhirFixture, idsIn, observationsIn } from './fhir-fixture.js';
import type { AnyBundle } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

function nextOf({ link = [] }: AnyBundle): string {
  return link.find(({ relation }) => relation === 'next')?.url ?? '';
}

describe('pages', () => {
  it.each(['date', '-date', '_lastUpdated', '-_lastUpdated', '_id', '-_id'])(
    'sorted by %s show the state of the first one while readings arrive and change',
    async (sort) => {
      const patient = await fhir.addPatient(`paging-${sort}`);
      // Several at the same time: the id has to decide between them.
      const at = (i: number): { at: string } => ({ at: `2026-03-01T0${i % 3}:00:00Z` });
      const ids = await fhir.addReadings(
        patient,
        Array.from({ length: 11 }, (_, i) => at(i)),
      );
      let round = 0;
      const disturb = async (): Promise<void> => {
        round += 1;
        await fhir.addReadings(patient, [
          at(round),
          { at: '2026-02-01T00:00:00Z' },
          { at: '2027-01-01T00:00:00Z' },
        ]);
        await fhir.change(ids[round] ?? '', { amount: '99', status: 'corrected' });
        // Corrected in its time: it moves within the order, and still must stay on its page.
        await fhir.change(ids[11 - round] ?? '', { effective_at: '2026-02-15T00:00:00Z' });
      };
      const query = `Observation?patient=${patient.id}&_count=3&_sort=${sort}&_total=accurate`;
      const bundles = await fhir.pages(query, disturb);
      const shown = idsIn(...bundles);
      expect(bundles.map(({ total }) => total)).toEqual([11, 11, 11, 11]);
      expect(shown).toHaveLength(11);
      expect(new Set(shown)).toEqual(new Set(ids));
      expect(observationsIn(bundles).map(({ meta }) => meta?.versionId)).toEqual(
        Array.from({ length: 11 }, () => '1'),
      );
      const after = await fhir.pages(`Observation?patient=${patient.id}&_count=3`);
      expect(idsIn(...after)).toHaveLength(11 + 3 * 4);
    },
  );

  it('gives the same page again when a link is followed twice', async () => {
    const patient = await fhir.addPatient('paging-again');
    const ids = await fhir.addReadings(patient, [{}, {}, {}]);
    const [first] = await fhir.pages(`Observation?patient=${patient.id}&_count=1`);
    const link = nextOf(first ?? { resourceType: 'Bundle', type: 'searchset' });
    const once = await fhir.ask(link);
    await fhir.change(ids[1] ?? '', { status: 'entered-in-error' });
    expect((await fhir.ask(link)).text).toBe(once.text);
  });

  it('are tied to the parameters of their search', async () => {
    const patient = await fhir.addPatient('paging-tied');
    const other = await fhir.addPatient('paging-tied-other');
    await fhir.addReadings(patient, [{}, {}, {}]);
    const search = `Observation?patient=${patient.id}&_count=1`;
    const { body } = await fhir.ask<AnyBundle>(search);
    const page = new URL(nextOf(body)).searchParams.get('_page') ?? '';
    expect((await fhir.ask(`${search}&_page=${page}`)).status).toBe(200);
    const middle = Math.floor(page.length / 2);
    const changed =
      page.slice(0, middle) + (page[middle] === 'A' ? 'B' : 'A') + page.slice(middle + 1);
    for (const path of [
      `Observation?patient=${other.id}&_count=1&_page=${page}`,
      `Observation?patient=${patient.id}&_count=2&_page=${page}`,
      `Observation?patient=${patient.id}&_count=1&code=8867-4&_page=${page}`,
      `Observation?_page=${page}`,
      `Observation/_history?_count=1&_page=${page}`,
      `Patient?_count=1&_page=${page}`,
      `${search}&_page=${changed}`,
      `${search}&_page=${page}&_page=${page}`,
      `${search}&_page=${page}&_summary=count`,
    ]) {
      const { status, body: outcome } = await fhir.ask<OperationOutcome>(path);
      expect([path, status, outcome.issue[0]?.code]).toEqual([path, 400, 'value']);
    }
  });

  it('show what times without an offset were read as, and go on with it', async () => {
    const patient = await fhir.addPatient('paging-zone');
    // In Paris, 1 March 2026, 08:00 is 07:00 UTC.
    const [early = '', late = ''] = await fhir.addReadings(patient, [
      { at: '2026-03-01T06:59:59.999Z' },
      { at: '2026-03-01T07:00:00Z' },
      { at: '2026-03-01T07:00:01Z' },
    ]);
    const query = `patient=${patient.id}&date=ge2026-03-01T08:00&_sort=date&_count=1`;
    const bundles = await fhir.pages(`Observation?${query}`);
    expect(idsIn(...bundles)[0]).toBe(late);
    expect(idsIn(...bundles)).not.toContain(early);
    expect(idsIn(...bundles)).toHaveLength(2);
    const self = new URL(bundles[0]?.link?.[0]?.url ?? '');
    expect(self.searchParams.get('date')).toBe('ge2026-03-01T08:00+01:00');
  });
});

describe('a page that was made up', () => {
  it.each([
    ['Patient', '0197f3c0-0000-7000-8000-000000000001.mean-pressure'],
    ['Patient', 'x'],
    ['Observation', '0197f3c0-0000-7000-8000-000000000001.'],
    ['Observation', '0197f3c0-0000-7000-8000-00000000000g'],
  ])('after a row of %s that cannot be one is refused: %s', async (type, id) => {
    const asOfMs = Date.parse(await lastStamp());
    const binding = bindingOf(`${fhir.url}/fhir/${type}`, []);
    const page = writePageStart({ asOfMs, keyMs: 0, id, version: 0 }, binding);
    const { status, body } = await fhir.ask<OperationOutcome>(`${type}?_page=${page}`);
    expect([status, body.issue[0]?.code]).toEqual([400, 'value']);
  });
});

describe('a feed read by _lastUpdated', () => {
  it('misses nothing and shows nothing unchanged twice, against writers at work', async () => {
    const patients = await Promise.all(
      ['a', 'b', 'c', 'd'].map((name) => fhir.addPatient(`feed-${name}`)),
    );
    const start = await lastStamp();
    const written: string[] = [];
    const writing = { goesOn: true };
    const writers = patients.map(async (patient, w) => {
      for (let i = 0; i < 12; i += 1) {
        const ids = await fhir.addReadings(patient, [{}, {}]);
        written.push(...ids);
        const mine = written[(i * 7 + w) % written.length] ?? '';
        // Two writers may choose the same one: the later must fail, not fork the versions.
        await fhir.change(mine, { amount: String(60 + i) }).catch(() => undefined);
      }
    });
    const done = Promise.all(writers).then(() => {
      writing.goesOn = false;
    });

    const seen = new Map<string, string>();
    let greatest = start;
    const poll = async (): Promise<void> => {
      const query = new URLSearchParams({
        _lastUpdated: `gt${greatest}`,
        _sort: '_lastUpdated',
        _count: '5',
      });
      for (const observation of observationsIn(
        await fhir.pages(`Observation?${query.toString()}`),
      )) {
        const { id = '', meta } = observation;
        const stamp = meta?.lastUpdated ?? '';
        expect(seen.get(id)).not.toBe(stamp);
        expect(stamp > start).toBe(true);
        seen.set(id, stamp);
        if (stamp > greatest) greatest = stamp;
      }
    };
    while (writing.goesOn) await poll();
    await done;
    await poll();

    const { rows } = await fhir.database.pool.query<{ reading_id: string; stamp: Date }>(
      'select reading_id, stamp from readings where superseded is null and stamp > $1',
      [start],
    );
    expect(rows).toHaveLength(96);
    for (const { reading_id: id, stamp } of rows) {
      expect([id, seen.get(id)]).toEqual([id, stamp.toISOString()]);
    }
    await everyVersionIsInTheHistory(start);
  });

  it('tells two commits of the same second apart', async () => {
    const patient = await fhir.addPatient('feed-ms');
    const one = await fhir.addReading(patient);
    const stamp = await lastStamp();
    const two = await fhir.addReading(patient);
    const find = async (value: string): Promise<string[]> =>
      idsIn(
        (await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}&_lastUpdated=${value}`)).body,
      );
    expect(await find(`gt${stamp}`)).toEqual([two]);
    expect(await find(`ge${stamp}`)).toEqual([two, one]);
    expect(await find(stamp)).toEqual([one]);
    expect(await find(`lt${stamp}`)).toEqual([]);
  });
});

async function lastStamp(): Promise<string> {
  const { rows } = await fhir.database.pool.query<{ last_stamp: Date }>(
    'select last_stamp from publication_clock',
  );
  return rows[0]?.last_stamp.toISOString() ?? '';
}

async function everyVersionIsInTheHistory(since: string): Promise<void> {
  const bundles = await fhir.pages(`Observation/_history?_since=${since}&_count=7`);
  const shown = observationsIn(bundles).map(
    ({ id = '', meta }) => `${id}/${meta?.versionId ?? ''}`,
  );
  const { rows } = await fhir.database.pool.query<{ version: string }>(
    `select reading_id || '/' || version as version from readings where stamp >= $1`,
    [since],
  );
  expect(shown).toHaveLength(rows.length);
  expect(new Set(shown)).toEqual(new Set(rows.map(({ version }) => version)));
}
