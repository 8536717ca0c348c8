import { randomUUID } from 'node:crypto';
import type { Deliverer } from '../../src/deliveries/deliveries.js';
import type { DeliveredSet, IncomingReading } from '../../src/vitals/shapes.js';
import { MRN, registerPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

let gateway: TestGateway;
let peer: Deliverer;
let analyst: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  const { rows } = await gateway.database.pool.query<{ source_key: number }>(
    "insert into sources (name, attended) values ('monitors', false) returning source_key",
  );
  peer = {
    clientKey: null,
    sourceKey: rows[0]?.source_key ?? 0,
    source: 'monitors',
    person: null,
    attended: false,
    secondIdentifierRequired: false,
  };
  analyst = await gateway.token('review.read review.write');
});

afterAll(() => gateway.close());

const secondsAgo = (seconds: number): string =>
  new Date(Math.floor(Date.now() / 1000 - seconds) * 1000).toISOString();

function saturation(index: number, value: string, takenAt = secondsAgo(90)): IncomingReading {
  return {
    index,
    vital: 'oxygen-saturation',
    method: 'pulse-oximetry',
    value,
    unit: '%',
    takenAt,
    device: { identifier: { system: 'urn:example:device', value: 'OX-31' } },
    report: { at: `row ${index + 1}`, reviewed: false },
  };
}

async function deliver(sets: readonly DeliveredSet[], bytes: string = randomUUID()) {
  const arrival = { bytes: Buffer.from(bytes), contentType: 'application/hl7-v2' };
  const pipeline = gateway.gateway.pipelineAt(Date.now);
  return (await pipeline.receiveDelivery(peer, arrival, sets)).parts;
}

interface Answer {
  readonly verdict: string;
  readonly readings: readonly { reading: string; index: number; observation?: string }[];
  readonly findings: readonly { rule: string }[];
}

const answerOf = (part: { answer: Buffer } | undefined): Answer =>
  JSON.parse(String(part?.answer)) as Answer;

const named = (number: string, birthDate: string) => ({
  identifier: { system: MRN, value: number },
  birthDate,
});

it('keeps the readings of two patients of one message apart, under one copy of its bytes', async () => {
  const one = await registerPatient(gateway, 'D-1');
  const other = await registerPatient(gateway, 'D-2', '1950-01-02');
  const parts = await deliver([
    { patient: named('D-1', one.birthDate), takenAt: null, readings: [saturation(0, '97')] },
    { patient: named('D-2', other.birthDate), takenAt: null, readings: [saturation(3, '93')] },
  ]);
  expect(parts.map(({ status, repeat }) => ({ status, repeat }))).toEqual([
    { status: 201, repeat: false },
    { status: 201, repeat: false },
  ]);
  const raw = await Promise.all(
    parts.map(({ submissionId }) =>
      gateway.ask(`/review/submissions/${submissionId}/raw`, { token: analyst }),
    ),
  );
  expect(raw[0]?.text).toBe(raw[1]?.text);
  const reader = await gateway.token('system/Observation.rs');
  for (const [part, number, value] of [
    [parts[0], 'D-1', 97],
    [parts[1], 'D-2', 93],
  ] as const) {
    const path = `/fhir/${answerOf(part).readings[0]?.observation ?? ''}`;
    const { body } = await gateway.ask(path, { token: reader });
    expect(body).toMatchObject({
      status: 'preliminary',
      subject: { identifier: { value: number } },
      valueQuantity: { value },
    });
  }
});

it('takes the very same bytes once, and answers as the first time', async () => {
  const { birthDate } = await registerPatient(gateway, 'D-3');
  const set = { patient: named('D-3', birthDate), takenAt: null, readings: [saturation(0, '96')] };
  const first = await deliver([set], 'the same message');
  const second = await deliver([set], 'the same message');
  expect(second).toEqual([
    { submissionId: first[0]?.submissionId, status: 201, answer: first[0]?.answer, repeat: true },
  ]);
});

it('waits with what names nobody and comes from a device of nobody', async () => {
  const [part] = await deliver([{ patient: null, takenAt: null, readings: [saturation(0, '71')] }]);
  const answer = answerOf(part);
  expect(answer.verdict).toBe('held');
  expect(answer.readings[0]?.observation).toBeUndefined();
});

it('keeps a row that nobody could read, and shows it to the analyst', async () => {
  const { birthDate } = await registerPatient(gateway, 'D-4');
  const [part] = await deliver([
    {
      patient: named('D-4', birthDate),
      takenAt: null,
      readings: [],
      unread: [
        {
          index: 2,
          at: 'OBX 3',
          reason: 'code-unmapped',
          message: 'No mapping knows the code X-9.',
          code: { system: 'L', code: 'X-9' },
          value: '12',
        },
      ],
    },
  ]);
  const told = await gateway.ask<{ unread: unknown[] }>(
    `/review/submissions/${part?.submissionId ?? ''}`,
    { token: analyst },
  );
  expect(told.body.unread).toMatchObject([
    { at: 'OBX 3', reason: 'code-unmapped', code: { system: 'L', code: 'X-9' }, readAt: null },
  ]);
});
