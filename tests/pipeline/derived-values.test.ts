/**
 * Values calculated from blood pressures, over a real gateway: asked for by an edition, published beside
 * their pressure, and following whatever becomes of it. Figures: diastolic and a third of the pulse
 * pressure, half up (120/80: 93); with 0.40 (120/80: 96), Bos et al., J Hypertens 25:751 (2007).
 */
import type { Bundle, Observation, OperationOutcome } from 'fhir/r4.js';
import { resourceFaults } from '../fhir-validation/resource-faults.js';
import { identifierOf, openReviewDesk } from '../serve/review/review-desk.js';
import type { Json, ReviewDesk } from '../serve/review/review-desk.js';
import { configuration } from '../serve/rules/site-configuration.js';
import { oxygen, pressure } from '../setup/example-sets.js';

type Found = Bundle<Observation | OperationOutcome>;

const DERIVED = 'urn:vital-sign-gateway:derived';
const MEAN = `${DERIVED}|mean-pressure`;
const pulsePressureOf = (id: string): string => `${id}.pulse-pressure`;
const meanOf = (id: string): string => `${id}.mean-pressure`;

let desk: ReviewDesk;
let record: string;

beforeAll(async () => {
  desk = await openReviewDesk();
  record = await desk.gateway.token('system/*.rs', { name: 'record', attended: true });
});
afterAll(() => desk.gateway.close());

const fhir = (path: string) => desk.gateway.ask<Found>(`/fhir/${path}`, { token: record });

async function observationsAt(path: string): Promise<Observation[]> {
  const { status, text, body } = await fhir(path);
  if (status !== 200) throw new Error(text);
  return (body.entry ?? []).flatMap(({ resource }) =>
    resource?.resourceType === 'Observation' ? [resource] : [],
  );
}

/** Status and value of an Observation, version by version from the first. */
async function story(id: string): Promise<string[]> {
  const versions = await observationsAt(`Observation/${id}/_history`);
  return versions
    .map(({ meta, status, valueQuantity, dataAbsentReason }) =>
      [
        meta?.versionId,
        status,
        valueQuantity?.value ?? dataAbsentReason?.coding?.[0]?.code,
        ...(meta?.tag ?? []).map(({ code }) => code),
      ].join(' '),
    )
    .reverse();
}

/** Sends one pressure of somebody new; the id of its reading. */
async function send(reading: Json, more: Json = {}): Promise<string> {
  const answer = await desk.send([reading], more);
  return answer.readings[0]?.reading ?? '';
}

async function decide(id: string, action: string, more: Json = {}): Promise<Json> {
  const { version } = (await desk.read(id)).body;
  const decision = { action, reason: 'Seen.', reasonCode: 'other', expectedVersion: version };
  const told = await desk.decide(id, { ...decision, ...more });
  if (told.status !== 200) throw new Error(told.text);
  return told.body as unknown as Json;
}

/** Proposed by one and put into force by another; sets of after are judged by it. */
async function putIntoForce(changes: Json): Promise<void> {
  const { gateway } = desk;
  const { body } = await gateway.ask<{ edition: string }>('/rules/editions', {
    token: await gateway.token('rules.write'),
    body: { configuration: { ...configuration({}), ...changes }, reason: 'The ward asks for it.' },
  });
  const approved = await gateway.ask<{ inForceFrom: string }>(
    `/rules/editions/${body.edition}/approve`,
    { token: await gateway.token('rules.approve'), body: { reason: 'Agreed.' } },
  );
  const fromMs = Date.parse(approved.body.inForceFrom);
  await new Promise((resolve) => setTimeout(resolve, fromMs - Date.now() + 5));
}

/** A record that asks for everything after the greatest stamp it has seen, two at a time. */
class Poller {
  #seen = '2020-01-01T00:00:00Z';
  /** The newest version that it has seen of each Observation. */
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

const poller = new Poller();
/** A pressure published before anything was calculated. */
let early: string;

describe('as it comes', () => {
  it('nothing is calculated, and nothing is found', async () => {
    early = await send(pressure('auscultation', 120, 80));
    expect(await observationsAt(`Observation?code=${DERIVED}|`)).toEqual([]);
    expect((await fhir(`Observation/${meanOf(early)}`)).status).toBe(404);
    expect((await fhir('Observation?_count=1000')).body.total).toBe(1);
    await poller.poll();
  });
});

describe('switched on by an edition', () => {
  beforeAll(() => putIntoForce({ derivedValues: { enabled: true } }));
  afterEach(async () => {
    await poller.poll();
    const now = await observationsAt('Observation?_count=1000');
    expect(poller.known).toEqual(new Map(now.map(({ id, meta }) => [id, meta?.versionId])));
  });

  it('leaves what was published before as it was', async () => {
    expect((await fhir(`Observation/${pulsePressureOf(early)}`)).status).toBe(404);
    expect(await story(early)).toEqual(['1 final ']);
  });

  it('publishes both values beside their pressure, marked as calculated', async () => {
    const patient = await desk.patient();
    const set = { patient: { identifier: identifierOf(patient.number), birthDate: '1967-03-21' } };
    const answer = await desk.send([pressure('auscultation', 120, 80), oxygen(97)], set);
    const id = answer.readings[0]?.reading ?? '';
    const [own] = await observationsAt(`Observation?_id=${id}`);
    const found = await observationsAt(
      `Observation?subject=${own?.subject?.reference}&code=${DERIVED}|&_sort=_id`,
    );
    expect(found.map((one) => [one.id, one.valueQuantity?.value])).toEqual([
      [meanOf(id), 93],
      [pulsePressureOf(id), 40],
    ]);
    for (const one of found) {
      expect(resourceFaults(JSON.stringify(one))).toEqual([]);
      expect(one).toMatchObject({
        status: 'final',
        derivedFrom: [{ reference: `Observation/${id}`, type: 'Observation' }],
        effectiveDateTime: own?.effectiveDateTime,
        subject: own?.subject,
        bodySite: own?.bodySite,
        meta: { versionId: '1', lastUpdated: own?.meta?.lastUpdated },
      });
      expect(one.method?.text).toMatch(/^Calculated: /);
      expect(one.note?.[0]?.text).toContain('not measured');
      expect(one.device ?? one.performer ?? one.component ?? one.interpretation).toBeUndefined();
    }
  });

  it('counts and finds them as any other, and the readings as before', async () => {
    const { body } = await fhir('Observation?code=8478-0&_summary=count');
    expect(body.total).toBe(1);
    const loinc = await observationsAt('Observation?code=http://loinc.org|8478-0');
    expect(loinc.map((one) => one.valueQuantity?.value)).toEqual([93]);
    const [mean] = loinc;
    const about = `patient=${mean?.subject?.reference}`;
    const ids = async (query: string): Promise<(string | undefined)[]> =>
      (await observationsAt(`Observation?${about}&${query}`)).map(({ id }) => id);
    // Two readings, what was calculated from one of them, and the panel of the two.
    expect(await ids('category=vital-signs')).toHaveLength(5);
    const [panel] = await observationsAt(`Observation?${about}&code=85353-1`);
    expect(panel?.hasMember).toHaveLength(2);
    expect(await ids('code=85354-9')).toHaveLength(1);
    expect(await ids('combo-code=8478-0')).toEqual([mean?.id]);
    expect(await ids(`_id=${mean?.id}`)).toEqual([mean?.id]);
    expect(await ids(`code=${MEAN}&date=gt2020&status=final`)).toEqual([mean?.id]);
    expect(await ids(`code=${MEAN}&date=lt2020`)).toEqual([]);
    expect(await ids(`_lastUpdated=${mean?.meta?.lastUpdated}&_tag=unreviewed`)).toEqual([]);
    // Nobody sent them: they have no place in the set.
    const [own] = await observationsAt(`Observation?${about}&code=85354-9`);
    expect(
      await ids(`identifier=${encodeURIComponent(own?.identifier?.[0]?.value ?? '')}`),
    ).toEqual([own?.id]);
  });

  it('never puts a mean in the place of one that was sent, nor derives from half a pressure', async () => {
    const measured = await send(pressure('oscillometry', 131, 82, { mean: 97 }));
    expect((await fhir(`Observation/${meanOf(measured)}`)).status).toBe(404);
    expect(await story(pulsePressureOf(measured))).toEqual(['1 final 49']);
    // A mean beyond the pressures is published as an error; it was sent all the same.
    const wrong = await send(pressure('oscillometry', 131, 82, { mean: 140 }));
    expect((await fhir(`Observation/${meanOf(wrong)}`)).status).toBe(404);
    const palpated = await send({
      vital: 'blood-pressure',
      method: 'palpation',
      site: 'upper-arm',
      side: 'left',
      systolic: 110,
      unit: 'mm[Hg]',
    });
    expect((await fhir(`Observation/${pulsePressureOf(palpated)}`)).status).toBe(404);
    expect(await story(palpated)).toHaveLength(1);
  });

  it('follows corrections, and a withdrawal, in the same commits', async () => {
    const id = await send(pressure('auscultation', 120, 80));
    await decide(id, 'correct', { reading: pressure('auscultation', 126, 80) });
    await decide(id, 'correct', { reading: pressure('auscultation', 126, 80, { note: 'Calm.' }) });
    await decide(id, 'withdraw');
    expect(await story(meanOf(id))).toEqual([
      '1 final 93',
      '2 corrected 95',
      '3 amended 95',
      '4 entered-in-error 95',
    ]);
    expect(await story(pulsePressureOf(id))).toEqual([
      '1 final 40',
      '2 corrected 46',
      '3 amended 46',
      '4 entered-in-error 46',
    ]);
    for (const version of ['1', '2', '3', '4']) {
      const [own, mean] = await Promise.all(
        [id, meanOf(id)].map((one) => fhir(`Observation/${one}/_history/${version}`)),
      );
      expect(mean?.headers.get('last-modified')).toBe(own?.headers.get('last-modified'));
      expect(mean?.headers.get('etag')).toBe(`W/"${version}"`);
      expect(resourceFaults(mean?.text ?? '')).toEqual([]);
    }
  });

  it('says that a value holds no more when its pressure is corrected to have none', async () => {
    const id = await send(pressure('oscillometry', 120, 80));
    await decide(id, 'correct', { reading: pressure('oscillometry', 120, 80, { mean: 91 }) });
    await decide(id, 'correct', { reading: pressure('oscillometry', 124, 80) });
    expect(await story(meanOf(id))).toEqual([
      '1 final 93',
      '2 entered-in-error not-applicable',
      '3 corrected 95',
    ]);
    expect(await story(pulsePressureOf(id))).toEqual([
      '1 final 40',
      '2 corrected 40',
      '3 corrected 44',
    ]);
    const { text } = await fhir(`Observation/${meanOf(id)}/_history/2`);
    expect(resourceFaults(text)).toEqual([]);
    const ofStatus = async (status: string): Promise<unknown[]> =>
      (await observationsAt(`Observation?_id=${meanOf(id)}&status=${status}`)).map((one) => one.id);
    await decide(id, 'correct', { reading: oxygen(96) });
    expect(await ofStatus('entered-in-error')).toEqual([meanOf(id)]);
    expect(await ofStatus('corrected')).toEqual([]);
  });

  it('carries the doubts about a held pressure, and goes out with its release', async () => {
    const [first, second] = (
      await desk.send([pressure('auscultation', 118, 76), pressure('oscillometry', 148, 84)])
    ).readings.map(({ reading }) => reading);
    expect((await fhir(`Observation/${meanOf(first ?? '')}`)).status).toBe(404);
    const held = await fhir(`Observation?code=${MEAN}`);
    const outcome = held.body.entry?.at(-1)?.resource as OperationOutcome;
    expect(outcome.issue[0]?.diagnostics).toBe('held=2');
    await decide(first ?? '', 'release');
    expect(await story(meanOf(first ?? ''))).toEqual(['2 final 90']);
    await decide(second ?? '', 'reject');
    expect((await fhir(`Observation/${meanOf(second ?? '')}`)).status).toBe(404);

    const critical = (
      await desk.send([pressure('auscultation', 84, 52), pressure('oscillometry', 126, 78)])
    ).readings[0]?.reading;
    expect(await story(meanOf(critical ?? ''))).toEqual(['1 preliminary 63 unconfirmed']);
    const [mean] = await observationsAt(`Observation?_id=${meanOf(critical ?? '')}`);
    const [own] = await observationsAt(`Observation?_id=${critical}`);
    expect(mean?.note?.map(({ text }) => text)).toEqual(
      expect.arrayContaining(own?.note?.map(({ text }) => text) ?? ['no note']),
    );
    expect(mean?.text?.div).toContain('UNCONFIRMED');
    await decide(critical ?? '', 'reject');
    expect(await story(meanOf(critical ?? ''))).toEqual([
      '1 preliminary 63 unconfirmed',
      '2 entered-in-error 63',
    ]);
  });

  it('is no reading: not for the review, not for a change, not for the sender', async () => {
    const patient = await desk.patient();
    const who = {
      patient: { identifier: identifierOf(patient.number), birthDate: patient.birthDate },
    };
    const answer = await desk.send([pressure('auscultation', 120, 80)], who);
    expect(answer.readings).toHaveLength(1);
    const { rows } = await desk.gateway.database.pool.query(
      'select vital, version from readings where set_id = $1',
      [answer.setId],
    );
    expect(rows).toEqual([{ vital: 'blood-pressure', version: 1 }]);
    const id = answer.readings[0]?.reading ?? '';
    expect((await desk.read(meanOf(id))).status).toBe(404);
    const refused = await desk.decide(meanOf(id), {
      action: 'withdraw',
      reason: 'Seen.',
      reasonCode: 'other',
      expectedVersion: 1,
    });
    expect(refused.status).toBe(404);
  });

  it('moves with a reading that stood under the wrong patient', async () => {
    const id = await send(pressure('auscultation', 120, 80));
    const right = await desk.patient();
    const { published } = (await decide(id, 'correct', {
      reasonCode: 'wrong-patient',
      reading: pressure('auscultation', 120, 80),
      patient: { identifier: identifierOf(right.number), birthDate: right.birthDate },
    })) as { published?: { reading: string } };
    expect(await story(meanOf(id))).toEqual(['1 final 93', '2 entered-in-error 93']);
    expect(await story(meanOf(published?.reading ?? ''))).toEqual(['1 final 93']);
  });
});

describe('a merge of two registrations', () => {
  it('takes them along to the survivor', async () => {
    const [retired, survivor] = [await desk.patient(), await desk.patient()];
    const answer = await desk.send([pressure('auscultation', 120, 80)], {
      patient: { identifier: identifierOf(retired.number), birthDate: retired.birthDate },
    });
    const id = answer.readings[0]?.reading ?? '';
    const merged = await desk.ask('/review/merges', {
      retired: { identifier: identifierOf(retired.number) },
      survivor: { identifier: identifierOf(survivor.number) },
      reason: 'One person, admitted twice.',
    });
    expect(merged.status).toBe(201);
    const [own] = await observationsAt(`Observation?_id=${id}`);
    const found = await observationsAt(
      `Observation?patient=${own?.subject?.reference}&code=${DERIVED}|`,
    );
    expect(found.map((one) => [one.id, one.meta?.versionId, one.subject])).toEqual(
      [pulsePressureOf(id), meanOf(id)].map((one) => [one, '2', own?.subject]),
    );
  });
});

describe('a later edition', () => {
  it('calculates by another factor, or no more, from what is judged after', async () => {
    const before = await send(pressure('auscultation', 120, 80));
    const kept = await fhir(`Observation/${meanOf(before)}/_history/1`);
    await putIntoForce({
      derivedValues: { enabled: true },
      settings: configuration({ 'derived-values.mean-factor': [0.4, '1'] }).settings,
    });
    const by40 = await send(pressure('auscultation', 120, 80));
    expect(await story(meanOf(by40))).toEqual(['1 final 96']);
    expect((await fhir(`Observation/${meanOf(by40)}`)).text).toContain(
      'plus 0.4 of the pulse pressure',
    );
    await putIntoForce({ derivedValues: { enabled: false } });
    const without = await send(pressure('auscultation', 120, 80));
    expect((await fhir(`Observation/${meanOf(without)}`)).status).toBe(404);
    // What is out stays readable, is withdrawn with its pressure, and never outlasts a correction of it.
    expect((await fhir(`Observation/${meanOf(before)}`)).text).toBe(kept.text);
    await decide(by40, 'withdraw');
    expect(await story(meanOf(by40))).toEqual(['1 final 96', '2 entered-in-error 96']);
    await decide(before, 'correct', { reading: pressure('auscultation', 122, 80) });
    expect(await story(meanOf(before))).toEqual([
      '1 final 93',
      '2 entered-in-error not-applicable',
    ]);
    expect((await fhir(`Observation/${meanOf(before)}/_history/1`)).text).toBe(kept.text);
    await poller.poll();
    const now = await observationsAt('Observation?_count=1000');
    expect(poller.known).toEqual(new Map(now.map(({ id, meta }) => [id, meta?.versionId])));
  });
});
