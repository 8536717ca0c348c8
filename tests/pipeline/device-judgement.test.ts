/** What rules say of a device's message, as the record and the analyst then see it. */
import { randomUUID } from 'node:crypto';
import type { Observation } from 'fhir/r4.js';
import type { Deliverer } from '../../src/deliveries/deliveries.js';
import type { DeviceReport } from '../../src/vitals/device-report.js';
import type { DeliveredSet, IncomingReading } from '../../src/vitals/shapes.js';
import { MRN, registerPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { resourceFaults } from '../fhir-validation/resource-faults.js';

let gateway: TestGateway;
let peer: Deliverer;
let reader: string;
let patients = 0;

beforeAll(async () => {
  gateway = await openTestGateway();
  const { rows } = await gateway.database.pool.query<{ source_key: number }>(
    "insert into sources (name, attended) values ('ward monitors', false) returning source_key",
  );
  peer = {
    ...{ clientKey: null, sourceKey: rows[0]?.source_key ?? 0, source: 'ward monitors' },
    ...{ person: null, attended: false, secondIdentifierRequired: false },
  };
  reader = await gateway.token('system/Observation.rs');
});
afterAll(() => gateway.close());

const aMinuteAgo = (): string => new Date(Math.floor(Date.now() / 1000 - 90) * 1000).toISOString();

function saturation(value: string, takenAt: string | null, report: Partial<DeviceReport> = {}) {
  const reading: IncomingReading = {
    ...{ vital: 'oxygen-saturation', method: 'pulse-oximetry', value, unit: '%' },
    ...(takenAt === null ? {} : { takenAt }),
    device: { identifier: { system: 'urn:example:device', value: 'MON-61' } },
    report: { at: 'OBX 2', reviewed: false, ...report },
  };
  return reading;
}

interface Answer {
  readonly verdict: string;
  readonly readings: readonly { reading: string; verdict: string; observation?: string }[];
  readonly findings: readonly { rule: string; readings: number[] }[];
}

/** A patient of its own, and a way to send messages about it. */
async function monitored() {
  patients += 1;
  const number = `J-${String(patients)}`;
  const { birthDate } = await registerPatient(gateway, number);
  return async (...readings: IncomingReading[]) => {
    const patient = { identifier: { system: MRN, value: number }, birthDate };
    const set: DeliveredSet = { patient, takenAt: null, readings };
    const arrival = { bytes: Buffer.from(randomUUID()), contentType: 'application/hl7-v2' };
    const pipeline = gateway.gateway.pipelineAt(Date.now);
    const { parts, envelope } = await pipeline.receiveDelivery(peer, arrival, [set]);
    const answer = JSON.parse(String(parts[0]?.answer)) as Answer;
    return { status: parts[0]?.status, answer, receivedAtMs: envelope.receivedAtMs };
  };
}

async function observationOf(answer: Answer, place = 0): Promise<Observation> {
  const path = `/fhir/${answer.readings[place]?.observation ?? 'nothing'}`;
  const { body, text } = await gateway.ask<Observation>(path, { token: reader });
  expect(resourceFaults(text)).toEqual([]);
  return body;
}

const tagsOf = ({ meta }: Observation) => meta?.tag?.map(({ code }) => code);

it('publishes what its device doubts as preliminary, with the device’s own word for it', async () => {
  const send = await monitored();
  const { answer } = await send(saturation('97', aMinuteAgo(), { signal: ['questionable'] }));
  expect(answer.verdict).toBe('noted');
  const observation = await observationOf(answer);
  expect(observation.status).toBe('preliminary');
  expect(tagsOf(observation)).toEqual(['unreviewed', 'doubtful-signal']);
  expect(observation.interpretation?.map(({ coding }) => coding?.[0]?.code)).toEqual([
    'N',
    'questionable',
  ]);
});

it('publishes a critical value without a time at once, at the time of its arrival, marked', async () => {
  const send = await monitored();
  const doubts = ['time-missing'] as const;
  const { answer, receivedAtMs } = await send(saturation('81', null, { doubts }));
  const observation = await observationOf(answer);
  expect(observation.status).toBe('preliminary');
  expect(tagsOf(observation)).toEqual(['unconfirmed']);
  expect(Date.parse(observation.effectiveDateTime ?? '')).toBe(receivedAtMs);
  expect(observation.note?.map(({ text }) => text).join(' ')).toContain('the time of its arrival');
});

it('keeps what cannot be read as a value, beside what can', async () => {
  const send = await monitored();
  const unread: IncomingReading = {
    vital: 'body-temperature',
    report: { at: 'OBX 5', doubts: ['value-unreadable'], asSent: '37,1' },
  };
  const { status, answer } = await send({ ...unread, takenAt: aMinuteAgo() });
  expect([status, answer.verdict]).toEqual([422, 'rejected']);
  const both = await send({ ...unread, takenAt: aMinuteAgo() }, saturation('96', aMinuteAgo()));
  expect(both.status).toBe(201);
  expect(both.answer.readings.map(({ verdict }) => verdict)).toEqual(['rejected', 'accepted']);
  const analyst = await gateway.token('review.read');
  const path = `/review/readings/${both.answer.readings[0]?.reading ?? ''}`;
  const { status: found, text } = await gateway.ask(path, { token: analyst });
  expect([found, text.includes('37,1')]).toEqual([200, true]);
});

it('holds another value for a second that an earlier message told, and leaves that one', async () => {
  const send = await monitored();
  const takenAt = aMinuteAgo();
  const first = await send(saturation('97', takenAt));
  const second = await send(saturation('94', takenAt));
  expect(second.answer.findings.map(({ rule }) => rule)).toEqual(['reading-conflicts']);
  expect(second.answer.readings[0]?.observation).toBeUndefined();
  expect(await observationOf(first.answer)).toMatchObject({
    meta: { versionId: '1' },
    valueQuantity: { value: 97 },
  });
  const same = await send(saturation('97', takenAt));
  expect(same.answer.readings).toMatchObject([{ receivedBefore: true }]);
});
