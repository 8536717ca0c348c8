/**
 * Vital-signs panels over a real gateway: an Observation of each set with two published readings, and how it
 * follows them. Codes and profile: FHIR R4 4.0.1, observation-vitalsigns §10.1.19 and structure definition
 * vitalspanel; statuses: code system observation-status 4.0.1.
 */
import { randomUUID } from 'node:crypto';
import type { Bundle, Observation, OperationOutcome } from 'fhir/r4.js';
import { resourceFaults } from '../fhir-validation/resource-faults.js';
import {
  breaths,
  identifierOf,
  newNumber,
  openReviewDesk,
  saturation,
} from '../serve/review/review-desk.js';
import type { Json, ReviewDesk } from '../serve/review/review-desk.js';
import { minutesAgo, pressure, registerPatient } from '../setup/example-sets.js';
import type { SetAnswer } from '../setup/example-sets.js';
import { panelFaults, panelOf } from '../setup/panel-faults.js';

type Found = Bundle<Observation | OperationOutcome>;

const LOINC = 'http://loinc.org';
const VITALS_PANEL = 'http://hl7.org/fhir/StructureDefinition/vitalspanel';

let desk: ReviewDesk;
let record: string;

beforeAll(async () => {
  desk = await openReviewDesk();
  record = await desk.gateway.token('system/*.rs', { name: 'record', attended: true });
});
afterEach(async () => {
  expect(await panelFaults(desk.gateway.database.pool)).toEqual([]);
});
afterAll(() => desk.gateway.close());

const fhir = (path: string) => desk.gateway.ask<Found>(`/fhir/${path}`, { token: record });

async function observationsAt(path: string, mode = 'match'): Promise<Observation[]> {
  const { status, text, body } = await fhir(path);
  if (status !== 200) throw new Error(text);
  return (body.entry ?? []).flatMap(({ resource, search }) =>
    resource?.resourceType === 'Observation' && (search?.mode ?? mode) === mode ? [resource] : [],
  );
}

function readingIds({ readings }: SetAnswer): string[] {
  return readings.map(({ reading }) => reading);
}

function membersOf({ hasMember = [] }: Observation): string[] {
  return hasMember.map(({ reference = '' }) => reference.replace('Observation/', ''));
}

/** Version, status and members (by their places) of a set's panel, from the first version on. */
async function story(answer: SetAnswer): Promise<string[]> {
  const { status } = await fhir(`Observation/${panelOf(answer)}`);
  if (status === 404) return [];
  const versions = await observationsAt(`Observation/${panelOf(answer)}/_history`);
  const ids = readingIds(answer);
  for (const one of versions) expect(resourceFaults(JSON.stringify(one))).toEqual([]);
  return versions
    .map((one) => {
      const places = membersOf(one).map((id) => String(ids.indexOf(id)));
      return [one.meta?.versionId, one.status, places.join('+')].join(' ');
    })
    .reverse();
}

async function decide(id: string, action: string, more: Json = {}): Promise<void> {
  const { version } = (await desk.read(id)).body;
  const decision = { action, reason: 'Seen.', reasonCode: 'other', expectedVersion: version };
  const told = await desk.decide(id, { ...decision, ...more });
  if (told.status !== 200) throw new Error(told.text);
}

const TWO = [breaths(16), saturation(97)];
const THREE = [...TWO, pressure('auscultation', 120, 80)];

describe('a set', () => {
  it('of two published readings is a panel as well, with them as its members', async () => {
    const answer = await desk.send(TWO, {
      takenAt: '2026-03-01T08:15:00+01:00',
      recorder: { identifier: { system: 'urn:example:staff', value: 'N-311' } },
      encounter: { identifier: { system: 'urn:example:visit', value: randomUUID() } },
    });
    const [panel] = await observationsAt(`Observation?_id=${panelOf(answer)}`);
    const [first] = await observationsAt(`Observation?_id=${readingIds(answer)[0] ?? ''}`);
    expect(panel).toMatchObject({
      id: panelOf(answer),
      status: 'final',
      code: { coding: [{ system: LOINC, code: '85353-1' }] },
      category: first?.category,
      subject: first?.subject,
      encounter: first?.encounter,
      performer: first?.performer,
      effectiveDateTime: '2026-03-01T08:15:00+01:00',
      identifier: [{ system: 'urn:ietf:rfc:3986', value: `urn:uuid:${answer.setId}` }],
      hasMember: readingIds(answer).map((id) => ({ reference: `Observation/${id}` })),
    });
    expect(panel?.meta).toMatchObject({ versionId: '1', lastUpdated: first?.meta?.lastUpdated });
    expect(panel?.meta?.profile).toContain(VITALS_PANEL);
    // R4 vitalspanel: value[x] 0..0.
    expect(Object.keys(panel ?? {}).filter((name) => name.startsWith('value'))).toEqual([]);
    expect(await story(answer)).toEqual(['1 final 0+1']);
  });

  it('of one reading is none, nor is one of which a single reading is out', async () => {
    expect(await story(await desk.send([breaths(16)]))).toEqual([]);
    const held = [pressure('auscultation', 118, 76), pressure('oscillometry', 148, 84)];
    expect(await story(await desk.send([breaths(16), ...held]))).toEqual([]);
    expect(await story(await desk.sendFrom(desk.monitorToken, [saturation(96)]))).toEqual([]);
  });

  it('whose readings were taken hours apart is none: that is no one measurement', async () => {
    const [one, other] = [breaths(16), { ...saturation(97), takenAt: minutesAgo(200) }];
    const answer = await desk.send([one, other]);
    expect(await story(answer)).toEqual([]);
    const near = await desk.send([one, { ...saturation(97), takenAt: minutesAgo(12) }]);
    expect(await story(near)).toEqual(['1 final 0+1']);
    const [panel] = await observationsAt(`Observation?_id=${panelOf(near)}`);
    const [earliest] = await observationsAt(`Observation?_id=${readingIds(near)[1] ?? ''}`);
    expect(panel?.effectiveDateTime).toBe(earliest?.effectiveDateTime);
    // The invariant does not know of times.
    await decide(readingIds(answer)[0] ?? '', 'withdraw');
  });

  it('of readings that were not done is a cancelled one', async () => {
    const absent = [
      { vital: 'respiratory-rate', method: 'counted', absent: 'refused' },
      { vital: 'body-weight', absent: 'not-possible' },
    ];
    const answer = await desk.send(absent);
    expect(await story(answer)).toEqual(['1 cancelled 0+1']);
    expect(await story(await desk.send([...TWO, ...absent]))).toEqual(['1 final 0+1+2+3']);
  });
});

describe('follows its readings', () => {
  it('is preliminary while one is, and says so by tag and note', async () => {
    const answer = await desk.sendFrom(desk.monitorToken, TWO);
    const [panel] = await observationsAt(`Observation?_id=${panelOf(answer)}`);
    expect(panel?.meta?.tag?.map(({ code }) => code)).toEqual(['unsettled-members']);
    expect(panel?.note?.[0]?.text).toMatch(/member/);
    const [first = '', second = ''] = readingIds(answer);
    await decide(first, 'release');
    expect(await story(answer)).toEqual(['1 preliminary 0+1']);
    await decide(second, 'release');
    expect(await story(answer)).toEqual(['1 preliminary 0+1', '2 final 0+1']);
    const [settled] = await observationsAt(`Observation?_id=${panelOf(answer)}`);
    const [member] = await observationsAt(`Observation?_id=${second}`);
    expect(settled?.meta?.lastUpdated).toBe(member?.meta?.lastUpdated);
    expect(settled?.meta?.tag ?? settled?.note).toBeUndefined();
  });

  it('gets those that were held when they go out', async () => {
    const held = [pressure('auscultation', 118, 76), pressure('oscillometry', 148, 84)];
    const answer = await desk.send([breaths(16), saturation(97), ...held]);
    expect(await story(answer)).toEqual(['1 final 0+1']);
    await decide(readingIds(answer)[2] ?? '', 'release');
    await decide(readingIds(answer)[3] ?? '', 'reject');
    expect(await story(answer)).toEqual(['1 final 0+1', '2 amended 0+1+2']);
  });

  it('comes to be when a second one is released, and with deadlines that pass', async () => {
    const held = [pressure('auscultation', 118, 76), pressure('oscillometry', 148, 84)];
    const one = await desk.send([breaths(16), ...held]);
    await decide(readingIds(one)[1] ?? '', 'release');
    expect(await story(one)).toEqual(['1 final 0+1']);
    const other = await desk.send([breaths(17), ...held]);
    await desk.gateway.database.pool.query(
      "update readings set hold_until = clock_timestamp() - interval '1 second' where set_id = $1 and hold_until is not null",
      [other.setId],
    );
    const endMs = Date.now() + 15_000;
    while ((await story(other)).length === 0 && Date.now() < endMs) {
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    expect(await story(other)).toEqual(['1 preliminary 0+1+2']);
  });

  it('loses what is withdrawn, and is in error itself with fewer than two', async () => {
    const answer = await desk.send(THREE);
    const [first = '', second = ''] = readingIds(answer);
    await decide(first, 'withdraw');
    await decide(second, 'withdraw');
    await decide(readingIds(answer)[2] ?? '', 'withdraw');
    expect(await story(answer)).toEqual([
      '1 final 0+1+2',
      '2 corrected 1+2',
      '3 entered-in-error 1+2',
    ]);
  });

  it('stays as it is when a member is corrected, and follows a corrected time', async () => {
    const answer = await desk.send(TWO);
    const [first = '', second = ''] = readingIds(answer);
    await decide(first, 'correct', { reading: breaths(18) });
    await decide(first, 'correct', { reading: breaths(18, { note: 'Asleep.' }) });
    expect(await story(answer)).toEqual(['1 final 0+1']);
    const earlier = minutesAgo(30);
    await decide(second, 'correct', { reading: saturation(97, { takenAt: earlier }) });
    expect(await story(answer)).toEqual(['1 final 0+1', '2 corrected 0+1']);
    const [panel] = await observationsAt(`Observation?_id=${panelOf(answer)}`);
    expect(Date.parse(panel?.effectiveDateTime ?? '')).toBe(Date.parse(earlier));
  });

  it('never leaves its patient: what is filed anew elsewhere is no member', async () => {
    const answer = await desk.send(THREE);
    const other = await registerPatient(desk.gateway, newNumber());
    const patient = { identifier: identifierOf(other.number), birthDate: other.birthDate };
    await decide(readingIds(answer)[0] ?? '', 'correct', { patient });
    expect(await story(answer)).toEqual(['1 final 0+1+2', '2 corrected 1+2']);
  });

  it('gives every version the same bytes for ever', async () => {
    const answer = await desk.send(THREE);
    const first = await fhir(`Observation/${panelOf(answer)}/_history/1`);
    await decide(readingIds(answer)[0] ?? '', 'withdraw');
    const again = await fhir(`Observation/${panelOf(answer)}/_history/1`);
    expect(again.text).toBe(first.text);
    expect(again.headers.get('etag')).toBe('W/"1"');
    const now = await fhir(`Observation/${panelOf(answer)}`);
    expect(now.headers.get('etag')).toBe('W/"2"');
  });

  it('is consistent when two decide about one set at the same moment', async () => {
    for (let round = 0; round < 5; round += 1) {
      const answer = await desk.sendFrom(desk.monitorToken, TWO);
      const [first = '', second = ''] = readingIds(answer);
      await Promise.all([decide(first, 'release'), decide(second, 'release')]);
      expect(await story(answer)).toEqual(['1 preliminary 0+1', '2 final 0+1']);
      await Promise.all([
        decide(first, 'withdraw'),
        decide(second, 'correct', { reading: saturation(95) }),
      ]);
      expect((await story(answer)).at(-1)).toBe('3 entered-in-error 0+1');
    }
  });
});

describe('patients that are merged', () => {
  it('have the panel moved with its readings, in the same commit, and back', async () => {
    const [gone, stays] = [await desk.patient(), await desk.patient()];
    const answer = await desk.send(TWO, {
      patient: { identifier: identifierOf(gone.number), birthDate: gone.birthDate },
    });
    const subjectOf = async (): Promise<unknown[]> => {
      const [panel] = await observationsAt(`Observation?_id=${panelOf(answer)}`);
      const [member] = await observationsAt(`Observation?_id=${readingIds(answer)[0] ?? ''}`);
      expect(panel?.subject).toEqual(member?.subject);
      expect(panel?.meta?.lastUpdated).toBe(member?.meta?.lastUpdated);
      return [panel?.subject?.reference, panel?.meta?.versionId];
    };
    const [before] = await subjectOf();
    const { body } = await desk.ask<{ merge: string }>('/review/merges', {
      retired: { identifier: identifierOf(gone.number) },
      survivor: { identifier: identifierOf(stays.number) },
      reason: 'One person.',
    });
    const [after] = await subjectOf();
    expect(after).not.toBe(before);
    await desk.ask(`/review/merges/${body.merge}/undo`, { reason: 'Two sisters.' });
    expect(await subjectOf()).toEqual([before, '3']);
    expect(await story(answer)).toEqual(['1 final 0+1', '2 final 0+1', '3 final 0+1']);
  });
});

describe('readings by two roads', () => {
  it('are members of the later set too, if it brings one of its own', async () => {
    const patient = await desk.patient();
    const takenAt = minutesAgo(3);
    const about = {
      patient: { identifier: identifierOf(patient.number), birthDate: patient.birthDate },
      takenAt,
    };
    const first = await desk.send(TWO, about);
    const later = await desk.send([...TWO, pressure('auscultation', 120, 80)], about);
    expect(readingIds(later).slice(0, 2)).toEqual(readingIds(first));
    expect(await story(first)).toEqual(['1 final 0+1']);
    expect(await story(later)).toEqual(['1 final 0+1+2']);
    const repeated = await desk.send(TWO, about);
    expect(await story(repeated)).toEqual([]);
    await decide(readingIds(first)[0] ?? '', 'withdraw');
    expect(await story(first)).toEqual(['1 final 0+1', '2 entered-in-error 0+1']);
    expect(await story(later)).toEqual(['1 final 0+1+2', '2 corrected 1+2']);
  });
});
