import type { Observation, OperationOutcome } from 'fhir/r4.js';
import { minutesAgo, registerPatient } from '../../setup/example-sets.js';
import type { TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { FhirSender, byIdentifier, saturation } from './sent-observations.js';

let gateway: TestGateway;
let sender: FhirSender;
let wren: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await FhirSender.of(gateway);
  wren = await registerPatient(gateway, 'FC-1');
});
afterAll(() => gateway.close());

const codesOf = ({ issue }: OperationOutcome): string[] => issue.map(({ code }) => code);

describe('a conditional create (R4 §3.1.0.8.1)', () => {
  const named = (value: string): Record<string, unknown> => ({
    identifier: [{ system: 'urn:example:sent', value }],
  });
  const condition = (value: string): Record<string, string> => ({
    'if-none-exist': `identifier=urn:example:sent|${value}`,
  });

  it('keeps the first and answers the second with it', async () => {
    const sent = saturation(byIdentifier(wren), 97, {
      ...named('one'),
      effectiveDateTime: minutesAgo(15),
    });
    const first = await sender.post<Observation>('/Observation', sent, condition('one'));
    expect(first.status).toBe(201);
    // Another body that says the same: not one byte is compared.
    const again = { ...sent, id: 'x', language: 'en' };
    const second = await sender.post<Observation>('/Observation', again, condition('one'));
    expect([second.status, second.headers.get('location')]).toEqual([
      200,
      first.headers.get('location'),
    ]);
    expect(second.headers.get('etag')).toBe('W/"1"');
    const third = await sender.post('/Observation', sent, condition('one'));
    expect([third.status, third.headers.get('location')]).toEqual([
      200,
      first.headers.get('location'),
    ]);
    const told = await sender.post<OperationOutcome>('/Observation', again, {
      ...condition('one'),
      prefer: 'return=OperationOutcome',
    });
    // What was noted of it at first, once, and that it was known.
    expect(codesOf(told.body)).toEqual(['business-rule', 'duplicate']);
    const found = await sender.ask<{ total: number; entry: { resource: Observation }[] }>(
      '/Observation?identifier=urn:example:sent%7Cone&_total=accurate',
    );
    expect(found.body.total).toBe(1);
    expect(found.body.entry[0]?.resource.identifier).toContainEqual({
      system: 'urn:example:sent',
      value: 'one',
    });
  });

  it('never passes over another value because of an old name', async () => {
    const at = minutesAgo(17);
    const sent = (value: number): object =>
      saturation(byIdentifier(wren), value, { ...named('two'), effectiveDateTime: at });
    expect((await sender.post('/Observation', sent(97), condition('two'))).status).toBe(201);
    const { status, body } = await sender.post<OperationOutcome>(
      '/Observation',
      sent(84),
      condition('two'),
    );
    expect([status, codesOf(body)]).toEqual([409, ['duplicate']]);
  });

  it('knows again what is held, and never holds it twice', async () => {
    const stranger = { number: 'FI-later', birthDate: '1990-01-01' };
    const sent = saturation(byIdentifier(stranger), 97, named('held'));
    const first = await sender.post('/Observation', sent, condition('held'));
    const again = await sender.post('/Observation', { ...sent, language: 'en' }, condition('held'));
    expect([first.status, again.status, again.headers.get('location')]).toEqual([202, 202, null]);
    const { rows } = await gateway.database.pool.query(
      "select reading_id from observation_identifiers where value = 'held'",
    );
    expect(rows).toHaveLength(1);
  });

  it('answers 412 where several have the identifier', async () => {
    for (const value of [90, 91]) {
      const sent = saturation(byIdentifier(wren), value, {
        ...named('three'),
        effectiveDateTime: minutesAgo(19 + value),
      });
      expect((await sender.post('/Observation', sent)).status).toBe(201);
    }
    const { status, body } = await sender.post<OperationOutcome>(
      '/Observation',
      saturation(byIdentifier(wren), 92, named('three')),
      condition('three'),
    );
    expect([status, codesOf(body)]).toEqual([412, ['multiple-matches']]);
  });

  it('is one step: of many at once one is kept', async () => {
    const sent = saturation(byIdentifier(wren), 95, {
      ...named('race'),
      effectiveDateTime: minutesAgo(21),
    });
    const answers = await Promise.all(
      Array.from({ length: 12 }, (_, i) =>
        sender.post('/Observation', { ...sent, id: `r${i}` }, condition('race')),
      ),
    );
    const statuses = answers.map(({ status }) => status).sort();
    expect(statuses).toEqual([...Array.from({ length: 11 }, () => 200), 201]);
    expect(new Set(answers.map(({ headers }) => headers.get('location'))).size).toBe(1);
  });

  it.each(['code=2708-6', 'identifier=urn:example:sent', 'identifier=a|b&date=2026', ''])(
    'refuses the condition %j',
    async (text) => {
      const { status, body } = await sender.post<OperationOutcome>(
        '/Observation',
        saturation(byIdentifier(wren), 96),
        { 'if-none-exist': text },
      );
      expect([status, body.issue[0]?.expression]).toEqual([400, ['http.If-None-Exist']]);
    },
  );
});
