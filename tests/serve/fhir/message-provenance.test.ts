/**
 * How versions that messages brought came to be. Form of the messages: IHE DEV TF-2 §3.1.4 (PCD-01), HL7 v2.9.1
 * chapter 3 (ADT); the people, devices and values are invented.
 */
import type { AuditEvent, Bundle, FhirResource, Provenance } from 'fhir/r4.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { MRN } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { hl7Time, sendMessage } from '../../setup/send-message.js';

const SOURCE = 'unregistered HL7 v2 peers';

let gateway: TestGateway;
let port: number;
let record: string;
let watcher: string;

beforeAll(async () => {
  gateway = await openTestGateway({ MLLP_PORT: '0' });
  port = (await gateway.gateway.listenForMessages()) ?? 0;
  record = await gateway.token('system/*.rs');
  watcher = await gateway.token('system/AuditEvent.rs');
});
afterAll(() => gateway.close());

let sent = 0;

async function send(type: string, segments: readonly string[]): Promise<void> {
  sent += 1;
  const header = `MSH|^~\\&|LARKREG|LARKFIELD|||${hl7Time(Date.now())}||${type}|P${sent}|P|2.6`;
  const told = await sendMessage(port, [header, ...segments]);
  expect(told).toContain('MSA|AA|');
}

const patientSegment = (number: string): string =>
  `PID|||${number}^^^&${MRN}&URI^MR||Birch^Tamsin^^^^^L||19720614|F`;

async function tellRegister(event: string, number: string, more: readonly string[] = []) {
  const segments = [`EVN|${event}|${hl7Time(Date.now())}`, patientSegment(number), ...more];
  await send(`ADT^${event}^ADT_A01`, [...segments, 'PV1||I|LARK^4^B']);
}

/** A saturation; `status`: OBX-11. */
async function measure(number: string, value: number, status: string, takenMs: number) {
  const at = hl7Time(takenMs);
  const device = '0012340000009941';
  await send('ORU^R01^ORU_R01', [
    patientSegment(number),
    `OBR|1||S${sent}|182777000^monitoring of patient^SCT|||${at}`,
    `OBX|1||69965^MDC_DEV_MON_PHYSIO_MULTI_PARAM_MDS^MDC|1.0.0.0|||||||X|||||||${device}^^${device}^EUI-64`,
    `OBX|2|NM|150456^MDC_PULS_OXIM_SAT_O2^MDC|1.2.1.150456|${value}|262688^MDC_DIM_PERCENT^MDC|||||${status}|||${at}`,
  ]);
}

async function provenances(query: string): Promise<Provenance[]> {
  const { body } = await gateway.ask<Bundle<FhirResource>>(`/fhir/${query}`, { token: record });
  const found = (body.entry ?? []).flatMap(({ resource }) =>
    resource?.resourceType === 'Provenance' ? [resource] : [],
  );
  expect(found.flatMap((one) => resourceFaults(JSON.stringify(one)))).toEqual([]);
  return found;
}

const sources = ({ entity = [] }: Provenance) =>
  entity.filter(({ role }) => role === 'source').map(({ what }) => what.identifier?.value);
const authors = ({ agent }: Provenance) =>
  agent.map(({ who }) => who.display ?? who.identifier?.value);

it('names the device, the source and the message of a reading, and the message that corrected it', async () => {
  await tellRegister('A04', 'P-1');
  const takenMs = Math.floor(Date.now() / 1000) * 1000 - 60_000;
  await measure('P-1', 95, 'R', takenMs);
  await measure('P-1', 97, 'C', takenMs);
  const [first, second, ...more] = await provenances(
    `Observation?patient.identifier=${MRN}%7CP-1&_revinclude=Provenance:target`,
  );
  if (first === undefined || second === undefined) throw new Error('no Provenance');
  expect(more).toEqual([]);
  expect(first.agent.map(({ type }) => type?.coding?.[0]?.code)).toEqual([
    'author',
    'performer',
    'assembler',
  ]);
  expect(authors(first)[0]).toBe(SOURCE);
  expect(first.agent[1]?.who.identifier?.value).toMatch(/00-12-34-00-00-00-99-41/i);
  expect(authors(second)).toEqual([SOURCE, 'Vital-sign gateway, edition 1']);
  // Its own message, and that of the correction.
  expect(sources(second)).toHaveLength(2);
  expect(sources(second)).toEqual([
    sources(first)[0],
    expect.not.stringMatching(sources(first)[0] ?? ''),
  ]);
});

it('names the message that registered a patient, and that which merged two', async () => {
  await tellRegister('A04', 'P-2');
  await tellRegister('A04', 'P-3');
  await tellRegister('A40', 'P-3', [`MRG|P-2^^^&${MRN}&URI^MR`]);
  const found = await provenances(`Patient?identifier=${MRN}%7CP-3&_revinclude=Provenance:target`);
  expect(found.map((one) => authors(one)[0])).toEqual([SOURCE, SOURCE]);
  expect(found.map((one) => sources(one).length)).toEqual([1, 1]);
  expect(found[1]?.reason?.[0]?.text).toBe('The hospital’s register merged the two.');
  expect(found[1]?.entity?.map(({ role }) => role)).toEqual(['revision', 'source', 'derivation']);
});

it('is on record under the name of the source', async () => {
  const { body } = await gateway.ask<Bundle<FhirResource>>(
    '/fhir/AuditEvent?subtype=set-received,register-patient,patients-merged,decision-correct&_count=100',
    { token: watcher },
  );
  const events = (body.entry ?? []).flatMap(({ resource }) =>
    resource?.resourceType === 'AuditEvent' ? [resource] : [],
  );
  const word = ({ subtype = [] }: AuditEvent): string | undefined => subtype.at(-1)?.code;
  expect(new Set(events.map(word))).toEqual(
    new Set(['set-received', 'register-patient', 'patients-merged', 'decision-correct']),
  );
  for (const event of events) {
    expect([word(event), resourceFaults(JSON.stringify(event))]).toEqual([word(event), []]);
    expect([word(event), event.agent]).toEqual([
      word(event),
      [{ who: { identifier: expect.anything() as unknown, display: SOURCE }, requestor: true }],
    ]);
  }
});
