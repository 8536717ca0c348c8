import type { BundleEntry, Observation } from 'fhir/r4.js';
import { minutesAgo, registerPatient } from '../../setup/example-sets.js';
import type { TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway, Told } from '../../setup/gateway.js';
import type { AnyBundle } from './fhir-fixture.js';
import {
  FhirSender,
  byIdentifier,
  coded,
  post,
  saturation,
  statuses,
} from './sent-observations.js';

let gateway: TestGateway;
let sender: FhirSender;
let wren: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await FhirSender.of(gateway);
  wren = await registerPatient(gateway, 'FD-1');
});
afterAll(() => gateway.close());

type Json = Readonly<Record<string, unknown>>;

function send(type: 'transaction', entry: readonly unknown[]): Promise<Told<AnyBundle>> {
  return sender.post('', { resourceType: 'Bundle', type, entry });
}

const shown = async (entry: BundleEntry | undefined): Promise<Observation> =>
  (await sender.ask<Observation>(entry?.response?.location ?? '')).body;

describe('devices as both guides tell of them', () => {
  const EUI64 = 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680';
  const device = (value: string, more: Json = {}): Json => ({
    resourceType: 'Device',
    identifier: [{ system: EUI64, value }],
    ...more,
  });
  const mode = (valueCode: string): Json => ({
    extension: [
      { url: 'http://hl7.org/fhir/uv/pocd/StructureDefinition/operating-mode', valueCode },
    ],
  });
  const type = (code: string): Json => ({ type: coded('urn:iso:std:iso:11073:10101', code) });

  it('knows the parts of a monitor again by their ids, and its mode', async () => {
    const [mds, vmd] = [
      'urn:uuid:00000000-0000-4000-8000-0000000000a1',
      'urn:uuid:00000000-0000-4000-8000-0000000000a2',
    ];
    const tree = await send('transaction', [
      post(device('00-11-22-33-44-55-66-77', type('69965')), { fullUrl: mds }),
      post(
        { resourceType: 'Device', ...type('69642'), parent: { reference: mds } },
        { fullUrl: vmd },
      ),
      post({
        resourceType: 'DeviceMetric',
        ...type('150456'),
        category: 'measurement',
        source: { reference: mds },
        parent: { reference: vmd },
      }),
    ]);
    expect(statuses(tree.body)).toEqual(['201', '201', '201']);
    const metric = tree.body.entry?.[2]?.response?.location ?? '';
    expect(metric).toContain('/fhir/DeviceMetric/');
    const reading = (minutes: number): Json =>
      post(
        saturation(byIdentifier(wren), 96, {
          device: { reference: metric },
          effectiveDateTime: minutesAgo(minutes),
        }),
      );
    const measured = await send('transaction', [reading(22)]);
    expect(statuses(measured.body)).toEqual(['201']);
    expect((await shown(measured.body.entry?.[0])).device?.identifier).toEqual({
      system: EUI64,
      value: '00-11-22-33-44-55-66-77',
    });
    // Told again in another spelling, now demonstrating: its values are no patient's.
    const url = `Device?identifier=${EUI64}|0011223344556677`;
    const demo = {
      request: { method: 'PUT', url },
      resource: device('0011223344556677', mode('Dmo')),
    };
    expect(statuses((await send('transaction', [demo])).body)).toEqual(['200']);
    await send('transaction', [reading(24)]);
    const { rows } = await gateway.database.pool.query<{ report: { doubts?: string[] } }>(
      `select report from readings r join devices d using (device_key)
        where d.value = '00-11-22-33-44-55-66-77' order by effective_at`,
    );
    expect(rows.map(({ report }) => report.doubts ?? [])).toEqual([['test-data'], []]);
  });

  it('reads clock, status bits and early values of a personal device', async () => {
    const [phd, stamp] = [
      'urn:uuid:00000000-0000-4000-8000-0000000000b1',
      'urn:uuid:00000000-0000-4000-8000-0000000000b2',
    ];
    const at = minutesAgo(26);
    const mdc = (code: string): Json => ({ code: coded('urn:iso:std:iso:11073:10101', code) });
    const { body } = await send('transaction', [
      post(device('AA-11-22-33-44-55-66-77'), { fullUrl: phd }),
      post(
        {
          resourceType: 'Observation',
          status: 'final',
          ...mdc('67975'),
          subject: { reference: phd },
          effectiveDateTime: at,
          valueDateTime: new Date(Date.parse(at) + 5000).toISOString(),
        },
        { fullUrl: stamp },
      ),
      post(
        saturation(byIdentifier(wren), 92, {
          effectiveDateTime: at,
          device: { reference: phd },
          extension: [
            {
              url: 'http://hl7.org/fhir/uv/phd/StructureDefinition/CoincidentTimeStampReference',
              valueReference: { reference: stamp },
            },
          ],
        }),
      ),
      post({
        resourceType: 'Observation',
        status: 'final',
        ...mdc('150604'),
        subject: byIdentifier(wren),
        effectiveDateTime: at,
        device: { reference: phd },
        component: [{ code: coded('urn:x:bits', '150604.7'), valueBoolean: true }],
      }),
    ]);
    expect(statuses(body)).toEqual(['201', '200', '201', '200']);
    const { rows } = await gateway.database.pool.query<{ report: object }>(
      'select report from readings where amount = 92',
    );
    expect(rows[0]?.report).toMatchObject({
      at: 'entry 3',
      signal: ['questionable'],
      deviceTime: expect.stringContaining('T') as string,
    });
    const clocks = await gateway.database.pool.query('select offset_ms from device_clocks');
    expect(clocks.rows).toEqual([{ offset_ms: 5000 }]);
  });

  it('leaves to the association whose it is when the Observation names nobody', async () => {
    const { body } = await send('transaction', [
      post(
        saturation({}, 96, {
          subject: undefined,
          device: { identifier: { system: EUI64, value: 'CC-11-22-33-44-55-66-77' } },
        }),
      ),
    ]);
    expect(statuses(body)).toEqual(['202']);
  });
});
