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
  wren = await registerPatient(gateway, 'FA-1');
});
afterAll(() => gateway.close());

const codesOf = ({ issue }: OperationOutcome): string[] => issue.map(({ code }) => code);

describe('an Observation that speaks of one that was sent before', () => {
  const named = (value: string, more: Record<string, unknown> = {}): Record<string, unknown> => ({
    identifier: [{ system: 'urn:example:sent', value }],
    effectiveDateTime: minutesAgo(31),
    ...more,
  });

  it('corrects it, as a new version of the same Observation', async () => {
    const sent = named('corrected');
    const first = await sender.post<Observation>(
      '/Observation',
      saturation(byIdentifier(wren), 89, sent),
    );
    expect(first.status).toBe(201);
    const corrected = saturation(byIdentifier(wren), 98, { ...sent, status: 'corrected' });
    for (const [status, repeat] of [
      [200, false],
      [200, true],
    ] as const) {
      const answer = await sender.post<Observation>('/Observation', corrected);
      expect([repeat, answer.status, answer.headers.get('etag')]).toEqual([
        repeat,
        status,
        'W/"2"',
      ]);
      expect(answer.body).toMatchObject({
        id: first.body.id,
        status: 'corrected',
        valueQuantity: { value: 98 },
      });
      expect(answer.body.identifier).toContainEqual({
        system: 'urn:example:sent',
        value: 'corrected',
      });
    }
  });

  it('withdraws it, also by the identifier that the gateway gave it', async () => {
    const first = await sender.post<Observation>(
      '/Observation',
      saturation(byIdentifier(wren), 94, { effectiveDateTime: minutesAgo(33) }),
    );
    const { identifier } = first.body;
    const { status, body } = await sender.post<Observation>(
      '/Observation',
      saturation(byIdentifier(wren), 94, {
        identifier,
        effectiveDateTime: minutesAgo(33),
        status: 'entered-in-error',
      }),
    );
    expect([status, body.id, body.status]).toEqual([200, first.body.id, 'entered-in-error']);
  });

  it('never changes the subject', async () => {
    const other = await registerPatient(gateway, 'FI-other', '1971-01-01');
    const sent = named('subject', { effectiveDateTime: minutesAgo(35) });
    await sender.post('/Observation', saturation(byIdentifier(wren), 95, sent));
    const { status, body } = await sender.post<OperationOutcome>(
      '/Observation',
      saturation(byIdentifier(other), 95, { ...sent, status: 'corrected' }),
    );
    expect([status, codesOf(body)]).toEqual([409, ['duplicate']]);
  });

  it('is another source’s word only about its own', async () => {
    const stranger = await FhirSender.of(gateway, 'system/Observation.cr', {
      name: 'another ward',
      attended: true,
    });
    const sent = named('foreign', { effectiveDateTime: minutesAgo(37) });
    const first = await sender.post<Observation>(
      '/Observation',
      saturation(byIdentifier(wren), 95, sent),
    );
    const { status } = await stranger.post(
      '/Observation',
      saturation(byIdentifier(wren), 95, { ...sent, status: 'entered-in-error' }),
    );
    expect(status).toBe(422);
    const now = await sender.ask<Observation>(`/Observation/${first.body.id ?? ''}`);
    expect(now.body.status).toBe('final');
  });

  it('keeps what stands when the rules reject the correction', async () => {
    const sent = named('rejected', { effectiveDateTime: minutesAgo(39) });
    const first = await sender.post<Observation>(
      '/Observation',
      saturation(byIdentifier(wren), 95, sent),
    );
    const { status, body } = await sender.post<OperationOutcome>(
      '/Observation',
      saturation(byIdentifier(wren), 140, { ...sent, status: 'corrected' }),
    );
    expect([status, body.resourceType]).toEqual([422, 'OperationOutcome']);
    const now = await sender.ask<Observation>(`/Observation/${first.body.id ?? ''}`);
    expect(now.body.valueQuantity?.value).toBe(95);
  });

  it('is a reading with a note where nothing was sent before', async () => {
    const { status, body } = await sender.post<Observation>(
      '/Observation',
      saturation(
        byIdentifier(wren),
        96,
        named('never', { status: 'corrected', effectiveDateTime: minutesAgo(41) }),
      ),
    );
    expect([status, body.status]).toEqual([201, 'final']);
  });
});
