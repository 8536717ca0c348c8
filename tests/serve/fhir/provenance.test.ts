/** How each version came to be, told by versions that came to be in every way there is. */
import type { Bundle, FhirResource, Provenance } from 'fhir/r4.js';
import { MRN, minutesAgo, pressure, registerPatient } from '../../setup/example-sets.js';
import type { SetAnswer } from '../../setup/example-sets.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import {
  breaths,
  decision,
  firstOf,
  height,
  identifierOf,
  newNumber,
  openReviewDesk,
  saturation,
  weight,
} from '../review/review-desk.js';
import type { Json, ReviewDesk } from '../review/review-desk.js';

const STAFF = { system: 'urn:example:staff', value: 'N-311' };
const OXIMETER = { system: 'urn:example:device', value: 'OX-7' };

let desk: ReviewDesk;
let record: string;

beforeAll(async () => {
  desk = await openReviewDesk();
  record = await desk.gateway.token('system/*.rs');
});
afterAll(() => desk.gateway.close());

const fhir = <T = Bundle<FhirResource>>(path: string, token = record) =>
  desk.gateway.ask<T>(`/fhir/${path}`, { token });

function provenancesIn({ entry = [] }: Bundle<FhirResource>): Provenance[] {
  return entry.flatMap(({ resource }) =>
    resource?.resourceType === 'Provenance' ? [resource] : [],
  );
}

/** The Provenance of every published version of a reading, oldest first; each is checked against R4. */
async function historyOf(id: string): Promise<Provenance[]> {
  const { body } = await fhir(`Provenance?target=Observation/${id}&_sort=recorded`);
  const found = provenancesIn(body);
  expect(found.flatMap((one) => resourceFaults(JSON.stringify(one)))).toEqual([]);
  return found;
}

const codes = ({ agent }: Provenance): (string | undefined)[] =>
  agent.map(({ type }) => type?.coding?.[0]?.code);
const activity = ({ activity: done }: Provenance): string | undefined => done?.coding?.[0]?.code;
const entity = ({ entity: all = [] }: Provenance, role: string) =>
  all.filter((one) => one.role === role).map(({ what }) => what.reference ?? what.display);

async function takeSet(readings: readonly Json[], more: Json = {}): Promise<SetAnswer> {
  return desk.send(readings, more);
}

describe('the Provenance of an Observation', () => {
  it('tells who took a reading, by what, which program brought it, and from which bytes', async () => {
    const { submission, readings } = await takeSet(
      [saturation(96, { device: { identifier: OXIMETER } })],
      { recorder: { identifier: STAFF } },
    );
    const id = readings[0]?.reading ?? '';
    const [made, ...more] = await historyOf(id);
    expect(more).toEqual([]);
    expect(made).toMatchObject({
      id: `obs-${id}-1`,
      target: [{ reference: `Observation/${id}/_history/1` }],
    });
    if (made === undefined) throw new Error('no Provenance');
    expect(activity(made)).toBe('CREATE');
    expect(codes(made)).toEqual(['author', 'performer', 'composer', 'assembler']);
    const [author, performer, composer] = made.agent;
    expect(author?.who).toMatchObject({
      identifier: STAFF,
      display: 'N-311 (named by the sending system)',
    });
    expect(author?.onBehalfOf?.display).toBe('ward tablets');
    expect(performer?.who.identifier).toEqual(OXIMETER);
    expect(composer?.who.identifier?.system).toBe('urn:vital-sign-gateway:client');
    const kept = await desk.gateway.database.pool.query<{ sha256: Buffer }>(
      'select sha256 from submissions where submission_id = $1',
      [submission],
    );
    expect(made.entity).toEqual([
      {
        role: 'source',
        what: {
          identifier: { system: 'urn:ietf:rfc:3986', value: `urn:uuid:${submission}` },
          display: `As it arrived, SHA-256 ${kept.rows[0]?.sha256.toString('hex') ?? ''}`,
        },
      },
    ]);
    const observation = await fhir<{ meta: { lastUpdated: string } }>(`Observation/${id}`);
    expect(made.recorded).toBe(observation.body.meta.lastUpdated);
  });

  it('tells of a reading that nobody signed by its source', async () => {
    const { readings } = await desk.sendFrom(desk.monitorToken, [saturation(95)]);
    const [made] = await historyOf(readings[0]?.reading ?? '');
    expect(made?.agent[0]?.who.display).toBe('corridor monitors');
  });

  it('tells who decided, and why, of a release, a correction and a withdrawal', async () => {
    const answer = await takeSet([height(241)]);
    const id = firstOf(answer);
    await desk.decide(id, decision('release', 1, { reason: 'Measured twice.' }));
    await desk.decide(
      id,
      decision('correct', 2, { reading: height(214), reasonCode: 'entry-error' }),
    );
    await desk.decide(id, decision('withdraw', 3, { reasonCode: 'device-fault' }));
    const all = await historyOf(id);
    expect(all.map(activity)).toEqual(['CREATE', 'UPDATE', 'NULLIFY']);
    expect(all.map((one) => codes(one)[0])).toEqual(['verifier', 'author', 'author']);
    expect(all.map(({ reason = [] }) => reason[0]?.text)).toEqual([
      'Measured twice.',
      'Seen on the ward.',
      'Seen on the ward.',
    ]);
    expect(all[1]?.reason?.[0]?.coding).toEqual([
      { system: 'urn:vital-sign-gateway:reason-code', code: 'entry-error' },
    ]);
    expect(all.map((one) => entity(one, 'revision'))).toEqual([
      [],
      [`Observation/${id}/_history/2`],
      [`Observation/${id}/_history/3`],
    ]);
    // The bytes that brought it, and those of the decision.
    expect(all.map((one) => entity(one, 'source').length)).toEqual([2, 2, 2]);
    expect(all[0]?.agent[0]?.who.identifier?.system).toBe('urn:vital-sign-gateway:client');
  });

  it('links a reading that was published anew under the right patient to the one that was withdrawn', async () => {
    const id = firstOf(await takeSet([breaths(16)]));
    const right = await desk.patient();
    const wrong = decision('correct', 1, {
      ...{ reasonCode: 'wrong-patient', reading: breaths(16) },
      patient: { identifier: identifierOf(right.number) },
    });
    const { body } = await desk.decide(id, wrong);
    const anew = body.published?.reading ?? '';
    const [withdrawn] = (await historyOf(id)).slice(-1);
    const [fresh] = await historyOf(anew);
    if (withdrawn === undefined || fresh === undefined) throw new Error('no Provenance');
    expect(activity(withdrawn)).toBe('NULLIFY');
    expect(activity(fresh)).toBe('CREATE');
    expect(entity(fresh, 'derivation')).toEqual([`Observation/${id}/_history/2`]);
    expect(fresh.reason?.[0]?.coding?.[0]?.code).toBe('wrong-patient');
  });

  it('tells what the gateway did by itself: a hold went out, or a repeat resolved it', async () => {
    const patient = await desk.patient();
    const more = {
      patient: { identifier: identifierOf(patient.number), birthDate: patient.birthDate },
    };
    const waiting = await takeSet(
      [pressure('auscultation', 118, 76), pressure('oscillometry', 148, 84)],
      { ...more, takenAt: minutesAgo(3) },
    );
    const id = firstOf(waiting);
    await desk.gateway.database.pool.query(
      "update readings set hold_until = clock_timestamp() - interval '1 s' where reading_id = $1",
      [id],
    );
    for (let turn = 0; turn < 100 && (await desk.published(id)) === null; turn += 1) {
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    const [out] = await historyOf(id);
    if (out === undefined) throw new Error('it did not go out');
    expect([activity(out), codes(out)]).toEqual(['CREATE', ['assembler']]);
    expect(out.reason?.[0]?.text).toBe('Nobody had decided by the deadline of the hold.');
    expect(out.agent[0]?.who.display).toBe('Vital-sign gateway, edition 1');
  });

  it('tells whose identity was settled, and who moved it in a merge and back', async () => {
    const number = newNumber();
    const answer = await takeSet([breaths(15)], {
      patient: { identifier: identifierOf(number), birthDate: '1949-07-30' },
    });
    const id = firstOf(answer);
    await registerPatient(desk.gateway, number, '1949-07-30');
    for (let turn = 0; turn < 100 && (await desk.published(id)) === null; turn += 1) {
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    const stays = await desk.patient();
    const merged = await desk.ask<{ merge: string; retired: string; survivor: string }>(
      '/review/merges',
      {
        retired: { identifier: identifierOf(number) },
        survivor: { identifier: identifierOf(stays.number) },
        reason: 'Admitted twice.',
      },
    );
    await desk.ask(`/review/merges/${merged.body.merge}/undo`, { reason: 'Two sisters.' });
    const all = await historyOf(id);
    expect(all.map(activity)).toEqual(['CREATE', 'UPDATE', 'UPDATE']);
    expect(all.map(({ reason = [] }) => reason[0]?.text)).toEqual([
      'The patient’s identity was settled, and the reading was judged again.',
      'Admitted twice.',
      'Two sisters.',
    ]);
    expect(all.map((one) => entity(one, 'derivation'))).toEqual([
      [],
      [merged.body.retired],
      [merged.body.survivor],
    ]);
    expect(all.map(codes)).toEqual([['assembler'], ...[1, 2].map(() => ['author', 'assembler'])]);
  });

  it('is the same whenever it is asked for, by id, by search and along with its Observation', async () => {
    const id = firstOf(await takeSet([weight(71)]));
    const name = `obs-${id}-1`;
    const [byTarget] = await historyOf(id);
    const byId = await fhir<Provenance>(`Provenance/${name}`);
    const byVersion = await fhir<Provenance>(`Provenance/${name}/_history/1`);
    const along = await fhir(`Observation?_id=${id}&_revinclude=Provenance:target`);
    expect(byId.headers.get('etag')).toBe('W/"1"');
    expect(byId.body).toEqual(byTarget);
    expect(byVersion.text).toBe(byId.text);
    expect(provenancesIn(along.body)).toEqual([byTarget]);
    expect(bundleFaults(along.body)).toEqual([]);
    expect(along.body.total).toBe(1);
    expect((along.body.entry ?? []).map(({ search }) => search?.mode)).toEqual([
      'match',
      'include',
      'outcome',
    ]);
    expect(along.body.link?.[0]?.url).toContain('_revinclude=Provenance%3Atarget');
  });
});

describe('the Provenance of a Patient', () => {
  it('tells who registered each version, and which merge linked it', async () => {
    const [gone, stays] = [await desk.patient(), await desk.patient()];
    await desk.ask('/review/merges', {
      retired: { identifier: identifierOf(gone.number) },
      survivor: { identifier: identifierOf(stays.number) },
      reason: 'Admitted twice.',
    });
    const { body } = await fhir(
      `Patient?identifier=${MRN}%7C${stays.number}&_revinclude=Provenance:target`,
    );
    expect(bundleFaults(body)).toEqual([]);
    const [first, second] = provenancesIn(body);
    if (first === undefined || second === undefined) throw new Error('no Provenance');
    expect([activity(first), activity(second)]).toEqual(['CREATE', 'UPDATE']);
    expect(codes(first)).toEqual(['author', 'assembler']);
    expect(first.agent[0]?.who.identifier?.system).toBe('urn:vital-sign-gateway:client');
    expect(second.reason?.[0]?.text).toBe('Admitted twice.');
    const [, patientId = ''] = /Patient\/([^/]+)/.exec(first.target[0]?.reference ?? '') ?? [];
    const byPatient = await fhir(`Provenance?patient=${patientId}`);
    expect(provenancesIn(byPatient.body).map(({ id }) => id)).toEqual([second.id, first.id]);
    // A patient's Observations are no targets of that type.
    const other = await fhir(`Provenance?target=Patient/${patientId}/_history/1`);
    expect(provenancesIn(other.body).map(({ id }) => id)).toEqual([first.id]);
  });
});

describe('a search of Provenance', () => {
  it('comes in pages that miss and repeat nothing, upwards and downwards, whatever was published', async () => {
    await takeSet([breaths(14), weight(60), saturation(97)]);
    await desk.patient();
    const { rows } = await desk.gateway.database.pool.query<{ n: number }>(
      `select (select count(*) from readings where status is not null)
            + (select count(*) from panels)
            + (select count(*) from patient_versions) as n`,
    );
    for (const sort of ['', '&_sort=recorded', '&_sort=-_lastUpdated']) {
      const seen: Provenance[] = [];
      let next: string | undefined = `Provenance?_count=3&_total=accurate${sort}`;
      while (next !== undefined) {
        const page: Bundle<FhirResource> = (await fhir(next)).body;
        expect(bundleFaults(page)).toEqual([]);
        expect(page.total).toBe(rows[0]?.n);
        seen.push(...provenancesIn(page));
        next = page.link
          ?.find(({ relation }) => relation === 'next')
          ?.url.replace(/^.*\/fhir\//, '');
      }
      expect(new Set(seen.map(({ id }) => id)).size).toBe(rows[0]?.n);
      const times = seen.map(({ recorded }) => recorded);
      expect(times).toEqual(
        sort === '&_sort=recorded' ? times.toSorted() : times.toSorted().reverse(),
      );
    }
  });

  it('finds by id, version, time, and nothing by what there is not', async () => {
    const id = firstOf(await takeSet([weight(80)]));
    const found = async (query: string): Promise<(string | undefined)[]> =>
      provenancesIn((await fhir(`Provenance?${query}`)).body).map((one) => one.id);
    const name = `obs-${id}-1`;
    const [made] = await historyOf(id);
    expect(await found(`_id=${name}`)).toEqual([name]);
    expect(await found(`target=${id}`)).toEqual([name]);
    expect(await found(`target=Observation/${id}/_history/1`)).toEqual([name]);
    expect(await found(`target=Observation/${id}&recorded=${made?.recorded ?? ''}`)).toEqual([
      name,
    ]);
    expect(await found(`target=Observation/${id}&_lastUpdated=gt${made?.recorded ?? ''}`)).toEqual(
      [],
    );
    for (const query of [
      `target=Observation/${id}/_history/2`,
      `target=Patient/${id}`,
      `patient=${id}`,
      '_id=obs-x-1',
      `_id=obs-${id}-0`,
      'target=Observation/x',
    ]) {
      expect([query, await found(query)]).toEqual([query, []]);
    }
    expect((await fhir(`Provenance/obs-${id}-9`)).status).toBe(404);
    expect((await fhir('Provenance/x')).status).toBe(404);
    expect((await fhir('Provenance?recorded=soon')).status).toBe(400);
    expect((await fhir('Provenance?_sort=target')).status).toBe(400);
  });

  it('shows nothing of a reading that is held and unpublished', async () => {
    const id = firstOf(await takeSet([height(241)]));
    expect(await historyOf(id)).toEqual([]);
    expect((await fhir(`Provenance/obs-${id}-1`)).status).toBe(404);
  });
});

describe('a token', () => {
  it('for Observations alone is shown no Provenance, by no road', async () => {
    const id = firstOf(await takeSet([weight(81)]));
    const narrow = await desk.gateway.token('system/Observation.rs system/Patient.rs');
    for (const path of [`Provenance/obs-${id}-1`, 'Provenance', `Provenance?target=${id}`]) {
      expect((await fhir(path, narrow)).status).toBe(403);
    }
    const roads = [
      `Observation?_id=${id}&_revinclude=Provenance:target`,
      `Patient?_id=${id}&_revinclude=Provenance:target`,
      `Observation/$lastn?patient=${id}&code=29463-7&_revinclude=Provenance:target`,
    ];
    for (const road of roads) {
      const answer = await fhir(road, narrow);
      expect([road, answer.status, provenancesIn(answer.body)]).toEqual([road, 200, []]);
      // That something is left out is told.
      expect(answer.text).toContain('do not let it read Provenance');
    }
  });

  it('for Provenance alone is shown nothing that it may not read the target of', async () => {
    const id = firstOf(await takeSet([weight(82)]));
    const alone = await desk.gateway.token('system/Provenance.rs');
    expect((await fhir(`Provenance/obs-${id}-1`, alone)).status).toBe(404);
    const { body } = await fhir('Provenance?_total=accurate', alone);
    expect([body.total, provenancesIn(body)]).toEqual([0, []]);
    expect((await fhir(`Observation/${id}`, alone)).status).toBe(403);
    const patients = await desk.gateway.token('system/Provenance.rs system/Patient.rs');
    const seen = provenancesIn((await fhir('Provenance?_count=1000', patients)).body);
    expect(seen.length).toBeGreaterThan(0);
    expect(seen.every(({ target }) => target[0]?.type === 'Patient')).toBe(true);
  });

  // SMART App Launch 2.2, "Finer-grained resource constraints using search parameters".
  it('for some Observations is shown the Provenance of those versions alone', async () => {
    const answer = await takeSet([weight(83), height(241)]);
    const [heavy = '', tall = ''] = answer.readings.map(({ reading }) => reading);
    await desk.decide(tall, decision('release', 1));
    await desk.decide(
      heavy,
      decision('correct', 1, { reading: weight(84), reasonCode: 'entry-error' }),
    );
    const weights = 'system/Provenance.rs system/Observation.rs?code=http://loinc.org|29463-7';
    const finals = 'system/Provenance.rs system/Observation.rs?status=final';
    const idsFor = async (scopes: string, query: string): Promise<(string | undefined)[]> => {
      const token = await desk.gateway.token(scopes);
      const { body } = await fhir(query, token);
      return provenancesIn(body).map(({ id }) => id);
    };
    const asked = `Provenance?target=${heavy},${tall}&_sort=recorded`;
    const along = `Observation?_id=${heavy},${tall}&_revinclude=Provenance:target`;
    expect(await idsFor(weights, asked)).toEqual([`obs-${heavy}-1`, `obs-${heavy}-2`]);
    expect(await idsFor(weights, along)).toEqual([`obs-${heavy}-1`, `obs-${heavy}-2`]);
    // Its first version was final, its second is corrected: that of the second is not theirs.
    expect(await idsFor(finals, asked)).toEqual([`obs-${heavy}-1`, `obs-${tall}-2`]);
    expect(await idsFor(finals, along)).toEqual([`obs-${tall}-2`]);
    const token = await desk.gateway.token(finals);
    expect((await fhir(`Provenance/obs-${heavy}-2`, token)).status).toBe(404);
    expect((await fhir(`Provenance/obs-${heavy}-1`, token)).status).toBe(200);
  });
});

describe('the Provenance of a calculated value', () => {
  it('tells from which version of its reading it was calculated, and who changed that', async () => {
    const { gateway } = desk;
    const configuration = { name: 'Larkfield', settings: {}, derivedValues: { enabled: true } };
    const { body: proposed } = await gateway.ask<{ edition: string }>('/rules/editions', {
      token: await gateway.token('rules.write'),
      body: { configuration, reason: 'The ward asks for it.' },
    });
    const { body: approved } = await gateway.ask<{ inForceFrom: string }>(
      `/rules/editions/${proposed.edition}/approve`,
      { token: await gateway.token('rules.approve'), body: { reason: 'Agreed.' } },
    );
    const waitMs = Date.parse(approved.inForceFrom) - Date.now() + 5;
    await new Promise((resolve) => setTimeout(resolve, waitMs));
    const id = firstOf(await takeSet([pressure('auscultation', 118, 76)]));
    await desk.decide(id, decision('withdraw', 1, { reason: 'Not hers.' }));
    const pulse = `${id}.pulse-pressure`;
    const all = await historyOf(pulse);
    expect(all.map(({ id: name }) => name)).toEqual([`obs-${pulse}-1`, `obs-${pulse}-2`]);
    expect(all.map(activity)).toEqual(['CREATE', 'NULLIFY']);
    expect(all.map(codes)).toEqual([['assembler'], ['author', 'assembler']]);
    expect(all[1]?.reason?.[0]?.text).toBe('Not hers.');
    expect(all.map((one) => entity(one, 'derivation'))).toEqual([
      [`Observation/${id}/_history/1`],
      [`Observation/${id}/_history/2`],
    ]);
    expect(all.map((one) => entity(one, 'revision'))).toEqual([
      [],
      [`Observation/${pulse}/_history/1`],
    ]);
    expect((await fhir(`Provenance/obs-${pulse}-2`)).status).toBe(200);
    expect((await fhir(`Provenance/obs-${pulse}-3`)).status).toBe(404);
    const { body } = await fhir(
      `Observation?_id=${pulse}&_revinclude=Provenance:target:Observation`,
    );
    expect(provenancesIn(body)).toEqual(all);
  });
});
