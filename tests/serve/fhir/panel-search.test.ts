/**
 * Panels by every road by which Observations are read. Search parameters: FHIR R4 4.0.1, Observation
 * (has-member, code, date …) and §3.1.1.5.4 (_include, _revinclude); operations lastn and stats of 4.0.1.
 */
import type { Bundle, Observation, OperationOutcome, Parameters, Provenance } from 'fhir/r4.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';
import { minutesAgo, pressure } from '../../setup/example-sets.js';
import type { SetAnswer } from '../../setup/example-sets.js';
import type { Told } from '../../setup/gateway.js';
import { panelOf } from '../../setup/panel-faults.js';
import { ASYNC, ExportClient } from '../exports/export-client.js';
import { breaths, identifierOf, openReviewDesk, saturation } from '../review/review-desk.js';
import type { Json, ReviewDesk } from '../review/review-desk.js';

type Found = Bundle<Observation | OperationOutcome>;

const PANEL = 'http://loinc.org|85353-1';
const RECORD = { name: 'record', attended: true };

let desk: ReviewDesk;
let record: string;
let patientId: string;
/** Of one patient: a set of two, a set of three of somebody else's device, one reading by itself. */
let settled: SetAnswer;
let unsettled: SetAnswer;
let single: SetAnswer;

beforeAll(async () => {
  desk = await openReviewDesk();
  record = await desk.gateway.token('system/*.rs', RECORD);
  const { number, birthDate } = await desk.patient();
  const about = { patient: { identifier: identifierOf(number), birthDate } };
  settled = await desk.send([breaths(16), saturation(97)], { ...about, takenAt: minutesAgo(40) });
  unsettled = await desk.sendFrom(
    desk.monitorToken,
    [breaths(17), saturation(96), pressure('oscillometry', 121, 79)],
    { ...about, takenAt: minutesAgo(20) },
  );
  single = await desk.send([breaths(18)], about);
  const [one] = await matches(`Observation?_id=${panelOf(settled)}`);
  patientId = one?.subject?.reference?.slice('Patient/'.length) ?? '';
});
afterAll(() => desk.gateway.close());

function fhir(path: string, token = record): Promise<Told<Found>> {
  return desk.gateway.ask<Found>(`/fhir/${path}`, { token });
}

async function entries(path: string, mode: 'match' | 'include', token?: string) {
  const { status, text, body } = await fhir(path, token);
  if (status !== 200) throw new Error(text);
  expect(bundleFaults(body)).toEqual([]);
  return (body.entry ?? []).flatMap(({ resource, search }) =>
    resource?.resourceType === 'Observation' && search?.mode === mode ? [resource] : [],
  );
}

const matches = (path: string, token?: string) => entries(path, 'match', token);
const idsAt = async (path: string, mode: 'match' | 'include' = 'match', token?: string) =>
  (await entries(path, mode, token)).map(({ id }) => id);
const readingIds = ({ readings }: SetAnswer) => readings.map(({ reading }) => reading);

async function decide(id: string, action: string, more: Json = {}): Promise<void> {
  const { version } = (await desk.read(id)).body;
  const decision = { action, reason: 'Seen.', reasonCode: 'other', expectedVersion: version };
  const told = await desk.decide(id, { ...decision, ...more });
  if (told.status !== 200) throw new Error(told.text);
}

describe('a search', () => {
  it.each<[string, () => SetAnswer[]]>([
    ['code=85353-1', () => [unsettled, settled]],
    [`code=${PANEL}&_sort=date`, () => [settled, unsettled]],
    ['combo-code=85353-1&category=vital-signs', () => [unsettled, settled]],
    ['code=85353-1&status=final', () => [settled]],
    ['code=85353-1&status=preliminary', () => [unsettled]],
    ['_tag=unsettled-members', () => [unsettled]],
    ['code=85353-1&_tag=unreviewed,unconfirmed', () => []],
    [`code=85353-1&date=gt${encodeURIComponent(minutesAgo(30))}`, () => [unsettled]],
    ['_profile=http://hl7.org/fhir/StructureDefinition/vitalspanel', () => [unsettled, settled]],
    ['code=85353-1&data-absent-reason=error', () => []],
    ['code=85353-1&value-quantity=gt1', () => []],
    ['code=85353-1&method=37931006', () => []],
  ])('%s', async (query, expected) => {
    const found = await idsAt(`Observation?patient=${patientId}&${query}`);
    expect(found).toEqual(expected().map(panelOf));
    const { body } = await fhir(`Observation?patient=${patientId}&${query}&_summary=count`);
    expect(body.total).toBe(found.length);
  });

  it('finds the panel of a member, by the member and by the set', async () => {
    const [member = ''] = readingIds(unsettled);
    for (const query of [
      `has-member=${member}`,
      `has-member=Observation/${member}`,
      `identifier=urn:ietf:rfc:3986|urn:uuid:${unsettled.setId}`,
      `_id=${panelOf(unsettled)}`,
    ]) {
      expect(await idsAt(`Observation?${query}`)).toEqual([panelOf(unsettled)]);
    }
    const [lonely = ''] = readingIds(single);
    for (const id of [lonely, panelOf(unsettled), 'nothing']) {
      expect(await idsAt(`Observation?has-member=${id}`)).toEqual([]);
    }
  });

  it('of everything has panels among the readings, page by page, in order', async () => {
    const all = await matches(`Observation?patient=${patientId}&_sort=_lastUpdated,_id`);
    expect(all).toHaveLength(2 + 1 + 3 + 1 + 1);
    const paged: (string | undefined)[] = [];
    let next: string | undefined =
      `Observation?patient=${patientId}&_sort=_lastUpdated,_id&_count=2`;
    while (next !== undefined) {
      paged.push(...(await idsAt(next)));
      const { body }: { body: Found } = await fhir(next);
      const link = body.link?.find(({ relation }) => relation === 'next')?.url;
      next = link?.slice(link.indexOf('Observation?'));
    }
    expect(paged).toEqual(all.map(({ id }) => id));
  });

  it('brings members along, panels of members, and what was calculated', async () => {
    const members = await idsAt(
      `Observation?_id=${panelOf(unsettled)}&_include=Observation:has-member`,
      'include',
    );
    expect(members.toSorted()).toEqual(readingIds(unsettled));
    const [member = ''] = readingIds(unsettled);
    expect(
      await idsAt(`Observation?_id=${member}&_revinclude=Observation:has-member`, 'include'),
    ).toEqual([panelOf(unsettled)]);
    // Both in one page: each stands there once.
    const both = `Observation?_id=${member},${panelOf(unsettled)}&_include=Observation:has-member&_revinclude=Observation:has-member`;
    expect(await idsAt(both, 'include')).toHaveLength(2);
  });

  it('of members alone never brings a panel that the token may not see', async () => {
    const narrowed = 'system/Observation.rs?code=http://loinc.org|9279-1';
    const token = await desk.gateway.token(narrowed, RECORD);
    const [member = ''] = readingIds(unsettled);
    const query = `Observation?_id=${member}&_revinclude=Observation:has-member`;
    expect(await idsAt(query, 'match', token)).toEqual([member]);
    expect(await idsAt(query, 'include', token)).toEqual([]);
    expect((await fhir(`Observation/${panelOf(unsettled)}`, token)).status).toBe(404);
    expect(await idsAt('Observation?code=85353-1', 'match', token)).toEqual([]);
    const history = await fhir('Observation/_history?_count=100', token);
    expect(history.text).not.toContain('85353-1');
    const panels = await desk.gateway.token(`system/Observation.rs?code=${PANEL}`, RECORD);
    expect((await fhir(`Observation/${panelOf(unsettled)}`, panels)).status).toBe(200);
    expect(await idsAt('Observation?_sort=_id', 'match', panels)).toEqual(
      [panelOf(settled), panelOf(unsettled)].toSorted(),
    );
    expect((await fhir(`Observation/${member}`, panels)).status).toBe(404);
  });

  it('is asked by the words of the statement', async () => {
    const { text } = await fhir('metadata');
    for (const word of [
      'has-member',
      'Observation:has-member',
      'StructureDefinition/vitalspanel',
    ]) {
      expect(text).toContain(word);
    }
  });
});

describe('the operations', () => {
  it('lastn has the newest panel as a group of its own', async () => {
    const last = await idsAt(`Observation/$lastn?patient=${patientId}&category=vital-signs`);
    expect(last).toContain(panelOf(unsettled));
    expect(last).not.toContain(panelOf(settled));
    expect(last).toHaveLength(4);
    const panels = `Observation/$lastn?patient=${patientId}&code=85353-1&max=2`;
    expect(await idsAt(panels)).toEqual([panelOf(unsettled), panelOf(settled)]);
    expect(await idsAt(`Observation/$lastn?patient=${patientId}&code=9279-1`)).toEqual(
      readingIds(single),
    );
  });

  it('stats reckons nothing of panels, and counts no reading twice', async () => {
    const about = `subject=Patient/${patientId}&system=http://loinc.org&duration=2&statistic=count`;
    const none = await fhir(`Observation/$stats?${about}&code=85353-1`);
    expect(none.status).toBe(400);
    const { body } = await desk.gateway.ask<Parameters>(
      `/fhir/Observation/$stats?${about}&code=9279-1`,
      { token: record },
    );
    const statistics = body.parameter?.[0]?.resource as Observation;
    expect(statistics.component?.[0]?.valueQuantity?.value).toBe(3);
  });
  it('tell how each version came to be: from its members, by the gateway', async () => {
    const answer = await desk.send([breaths(15), saturation(98)]);
    const panel = panelOf(answer);
    await decide(readingIds(answer)[0] ?? '', 'withdraw');
    const token = { token: record };
    const { body } = await desk.gateway.ask<Bundle<Provenance>>(
      `/fhir/Provenance?target=Observation/${panel}&_sort=recorded`,
      token,
    );
    const told = (body.entry ?? []).flatMap(({ resource }) => resource ?? []);
    expect(told.map(({ activity }) => activity?.coding?.[0]?.code)).toEqual(['CREATE', 'NULLIFY']);
    for (const [i, one] of told.entries()) {
      expect(schemaFaults('Provenance', one)).toEqual([]);
      expect(one.target).toEqual([
        { reference: `Observation/${panel}/_history/${i + 1}`, type: 'Observation' },
      ]);
      const derived = (one.entity ?? []).filter(({ role }) => role === 'derivation');
      expect(derived.map(({ what }) => what.reference)).toEqual(
        readingIds(answer).map((id) => `Observation/${id}`),
      );
      const alone = await desk.gateway.ask(`/fhir/Provenance/${one.id ?? ''}`, token);
      expect(alone.body).toEqual(one);
    }
    const along = await desk.gateway.ask<Bundle>(
      `/fhir/Observation?_id=${panel}&_revinclude=Provenance:target`,
      token,
    );
    const types = (along.body.entry ?? []).map(({ resource }) => resource?.resourceType);
    expect(types.filter((type) => type === 'Provenance')).toHaveLength(2);
    const pulses = await desk.gateway.token(
      'system/Observation.rs?code=8867-4 system/Provenance.rs',
      RECORD,
    );
    const hidden = await desk.gateway.ask(`/fhir/Provenance/${told[0]?.id ?? ''}`, {
      token: pulses,
    });
    expect(hidden.status).toBe(404);
  });
});

/** A record that asks for everything after the greatest stamp it has seen, two at a time. */
class Poller {
  #seen = '2020-01-01T00:00:00Z';
  readonly known = new Map<string, string>();

  async poll(): Promise<void> {
    let next: string | undefined =
      `Observation?_lastUpdated=gt${this.#seen}&_sort=_lastUpdated&_count=2`;
    while (next !== undefined) {
      const { body }: { body: Found } = await fhir(next);
      for (const { resource } of body.entry ?? []) {
        if (resource?.resourceType !== 'Observation') continue;
        const { id = '', meta } = resource;
        if (this.known.get(id) === meta?.versionId) throw new Error(`${id} twice unchanged`);
        this.known.set(id, meta?.versionId ?? '');
        this.#seen = meta?.lastUpdated ?? this.#seen;
      }
      const link = body.link?.find(({ relation }) => relation === 'next')?.url;
      next = link?.slice(link.indexOf('Observation?'));
    }
  }
}

describe('the feed, the history and exports', () => {
  it('have every change of a panel, with the readings that made it', async () => {
    const poller = new Poller();
    await poller.poll();
    expect(poller.known.get(panelOf(unsettled))).toBe('1');
    const from = (await matches('Observation?_sort=-_lastUpdated&_count=1'))[0]?.meta?.lastUpdated;
    const ids = readingIds(unsettled);
    for (const id of ids) await decide(id, 'release');
    await decide(ids[0] ?? '', 'withdraw');
    await poller.poll();
    expect(poller.known.get(panelOf(unsettled))).toBe('3');
    const now = await matches('Observation?_count=1000');
    expect(poller.known).toEqual(new Map(now.map(({ id, meta }) => [id, meta?.versionId])));

    const { body } = await fhir(`Observation/_history?_since=${from ?? ''}&_count=100`);
    const told = (body.entry ?? []).filter(({ fullUrl = '' }) =>
      fullUrl.endsWith(panelOf(unsettled)),
    );
    expect(told.map(({ request }) => request?.method)).toEqual(
      told.map(({ resource }) => (resource?.meta?.versionId === '1' ? 'POST' : 'PUT')),
    );
    expect(told.slice(0, 2).map(({ resource }) => resource?.meta?.versionId)).toEqual(['3', '2']);
    const stamps = (body.entry ?? []).map(({ resource }) => resource?.meta?.lastUpdated ?? '');
    expect(stamps).toEqual(stamps.toSorted().toReversed());

    const client = new ExportClient(desk.gateway, record);
    const exported = async (query: string): Promise<string[]> => {
      const path = `/fhir/$export?_type=Observation${query}`;
      const kickOff = await desk.gateway.ask(path, { token: record, headers: ASYNC });
      const manifest = await client.manifest(
        client.pathOf(kickOff.headers.get('content-location') ?? ''),
      );
      const files = await Promise.all(manifest.output.map(({ url }) => client.lines(url)));
      return files
        .flat()
        .map(({ id }) => id)
        .toSorted();
    };
    expect(await exported('')).toEqual(now.map(({ id = '' }) => id).toSorted());
    expect(await exported(`&_since=${from ?? ''}`)).toEqual(
      [panelOf(unsettled), ...ids].toSorted(),
    );
    const filter = encodeURIComponent('Observation?code=85353-1');
    expect(await exported(`&_typeFilter=${filter}`)).toEqual(
      now.flatMap(({ id = '', hasMember }) => (hasMember === undefined ? [] : [id])).toSorted(),
    );
  });
});
