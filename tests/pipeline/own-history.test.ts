import { minutesAgo, oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

/** What a set is judged against of the patient's days before, out of a real database. */
let gateway: TestGateway;
let token: string;
let record: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  token = await gateway.token('sets.write sets.check');
  record = await gateway.token('system/*.rs');
});
afterAll(() => gateway.close());

const HOUR = 60;

const pulse = (value: number, more: Readonly<Record<string, unknown>> = {}) => ({
  vital: 'pulse-rate',
  method: 'pulse-oximetry',
  value,
  unit: '/min',
  ...more,
});

const taken = async (
  patient: TestPatient,
  minutes: number,
  ...readings: Readonly<Record<string, unknown>>[]
): Promise<SetAnswer> => {
  const body = setOf(patient, readings, { takenAt: minutesAgo(minutes) });
  return (await gateway.ask<SetAnswer>('/sets', { body, token })).body;
};

const rules = ({ findings }: SetAnswer): string[] => findings.map((each) => each.rule);

describe('change', () => {
  it('is held against the patient’s own last value, of that patient only', async () => {
    const patient = await registerPatient(gateway, 'LF-38001');
    await taken(patient, 3 * HOUR, pulse(68));
    const answer = await taken(patient, 1, pulse(112));
    expect(rules(answer)).toEqual(['pulse-rate-changed']);
    expect(answer).toMatchObject({ verdict: 'noted' });
    expect(answer.findings[0]?.message).toContain('68');
    const neighbour = await registerPatient(gateway, 'LF-38002');
    expect(rules(await taken(neighbour, 1, pulse(112)))).toEqual([]);
  });

  it('looks back over other signs and other times, in the order of time', async () => {
    const patient = await registerPatient(gateway, 'LF-38003');
    await taken(patient, 2 * HOUR, pulse(70));
    // Taken before it, sent after it.
    await taken(patient, 3 * HOUR, pulse(118));
    for (let minutes = 90; minutes > 10; minutes -= 2) await taken(patient, minutes, oxygen(97));
    expect(rules(await taken(patient, 1, pulse(115)))).toEqual(['pulse-rate-changed']);
  });

  it('passes over a value that is held or withdrawn, and takes up one that was released', async () => {
    const patient = await registerPatient(gateway, 'LF-38004');
    const before = await taken(patient, 2 * HOUR, pulse(260));
    expect(before.verdict).toBe('held');
    expect(rules(await taken(patient, 5, pulse(80)))).toEqual([]);
    const later = await registerPatient(gateway, 'LF-38005');
    const held = await taken(later, 2 * HOUR, pulse(255));
    const analyst = await gateway.token('review.read review.write');
    const released = await gateway.ask(`/review/readings/${held.readings[0]?.reading}/decisions`, {
      token: analyst,
      body: {
        action: 'release',
        reason: 'Seen on the monitor.',
        reasonCode: 'confirmed-at-bedside',
        expectedVersion: held.readings[0]?.version,
      },
    });
    expect(released.status).toBe(200);
    expect(rules(await taken(later, 5, pulse(80)))).toEqual(['pulse-rate-changed']);
  });

  it('is seen inside a batch, too', async () => {
    const patient = await registerPatient(gateway, 'LF-38006');
    const answers = await Promise.all([
      taken(patient, 10, pulse(66)),
      taken(patient, 9, oxygen(97)),
      taken(patient, 1, pulse(120)),
    ]);
    // Whichever comes first: the later one of the two pulses is held against the earlier, if that was kept.
    const again = await taken(patient, 0, pulse(66));
    expect([...answers.flatMap(rules), ...rules(again)]).toContain('pulse-rate-changed');
  });

  it('is told by a check, without the earlier value', async () => {
    const patient = await registerPatient(gateway, 'LF-38007');
    await taken(patient, 3 * HOUR, pulse(68));
    const body = setOf(patient, [pulse(112)]);
    const checked = await gateway.ask<SetAnswer>('/sets/check', { body, token });
    expect(rules(checked.body)).toEqual(['pulse-rate-changed']);
    expect(checked.text).not.toMatch(/\b68\b|\b44\b/);
  });
});

describe('a set that is all as the one before', () => {
  const round = [
    { vital: 'respiratory-rate', method: 'counted', count: 8, seconds: 30 },
    pulse(76),
    oxygen(97),
    pressure('auscultation', 128, 76),
    { vital: 'body-temperature', site: 'oral', value: 36.6, unit: 'Cel' },
  ];

  it('is noted, and goes out', async () => {
    const patient = await registerPatient(gateway, 'LF-38101');
    await taken(patient, 4 * HOUR - 5, ...round);
    const answer = await taken(patient, 1, ...round);
    expect(rules(answer)).toEqual(['set-unchanged']);
    expect(answer.readings.every((each) => each.observation !== undefined)).toBe(true);
  });
});

/** As if the set had been taken and sent so much earlier: the id of a submission tells when it came. */
async function moveBack({ submission }: SetAnswer, minutes: number): Promise<void> {
  const receivedMs = Number.parseInt(submission.replace('-', '').slice(0, 12), 16);
  const stem = (receivedMs - minutes * 60_000).toString(16).padStart(12, '0');
  const moved = `${stem.slice(0, 8)}-${stem.slice(8)}${submission.slice(13)}`;
  const { pool } = gateway.database;
  await pool.query('update submissions set submission_id = $2 where submission_id = $1', [
    submission,
    moved,
  ]);
  await pool.query(
    `update readings set reading_id = (left($2, 32) || right(reading_id::text, 4))::uuid,
                         effective_at = effective_at - $3 * interval '1 minute'
      where left(reading_id::text, 32) = left($1, 32)`,
    [submission, moved, minutes],
  );
}

describe('a late arrival', () => {
  it('is marked where the record reads it', async () => {
    const patient = await registerPatient(gateway, 'LF-38201');
    const answer = await taken(patient, 5 * HOUR, oxygen(97));
    expect(answer.verdict).toBe('accepted');
    const { body } = await gateway.ask<{
      note: { text: string }[];
      status: string;
      meta: { tag: { code: string }[] };
      subject: { reference: string };
    }>(`/fhir/${answer.readings[0]?.observation ?? ''}`, { token: record });
    expect(body.status).toBe('final');
    expect(body.meta.tag.map(({ code }) => code)).toEqual(['late-arrival']);
    expect(body.note.map((note) => note.text).join()).toContain('arrived 5 hours after');
    const found = await gateway.ask<{ total: number }>(
      `/fhir/Observation?_tag=late-arrival&_summary=count&patient=${body.subject.reference}`,
      { token: record },
    );
    expect(found.body.total).toBe(1);
  });

  it('is not made of a reading that is corrected later', async () => {
    const patient = await registerPatient(gateway, 'LF-38202');
    const body = setOf(patient, [oxygen(97)]);
    const sent = (await gateway.ask<SetAnswer>('/sets', { body, token })).body;
    await moveBack(sent, 5 * HOUR);
    const corrected = await gateway.ask<SetAnswer>(`/sets/${sent.setId}/readings/0/decisions`, {
      token,
      body: {
        action: 'correct',
        reason: 'Read again from the display.',
        reasonCode: 'entry-error',
        expectedVersion: 1,
        reading: oxygen(95),
      },
    });
    expect(corrected.status).toBe(200);
    expect(corrected.body.readings[0]).toMatchObject({ value: 95 });
    expect(rules(corrected.body)).toEqual([]);
  });
});

describe('a device whose clock is behind', () => {
  const device = { device: { identifier: { system: 'urn:example:device', value: 'OX-41' } } };

  it('is told by its last arrivals', async () => {
    const patient = await registerPatient(gateway, 'LF-38301');
    const answers: string[][] = [];
    for (const minutes of [11, 10, 9, 8]) {
      answers.push(rules(await taken(patient, minutes, { ...oxygen(97), ...device })));
    }
    expect(answers).toEqual([[], [], [], ['device-clock-drifted']]);
  });
});
