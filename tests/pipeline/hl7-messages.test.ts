/**
 * Messages over a real socket to the record's search. Form of the messages: IHE DEV TF-2 §3.1.4 (PCD-01),
 * IHE DEV PCIM §3.51 (associations), HL7 v2.9.1 chapter 3 (ADT); people, devices and values are invented.
 */
import { MRN, registerPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { panelFaults } from '../setup/panel-faults.js';
import { hl7Time, sendMessage } from '../setup/send-message.js';

let gateway: TestGateway;
let port: number;
let reader: string;
let analyst: string;
let admin: string;

afterEach(async () => {
  expect(await panelFaults(gateway.database.pool)).toEqual([]);
});

beforeAll(async () => {
  gateway = await openTestGateway({ MLLP_PORT: '0' });
  port = (await gateway.gateway.listenForMessages()) ?? 0;
  reader = await gateway.token('system/*.rs');
  analyst = await gateway.token('review.read review.write');
  admin = await gateway.token('admin');
});

afterAll(() => gateway.close());

const send = (segments: readonly string[]): Promise<string> => sendMessage(port, segments);

let messages = 0;
const START_MS = Math.floor(Date.now() / 1000) * 1000 - 120_000;

function header(type: string, mode: 'AL|NE' | '|' = 'AL|NE'): string {
  messages += 1;
  const [accept, application] = mode.split('|');
  return `MSH|^~\\&|LARKMON^0012340000005678^EUI-64|LARKFIELD|||${hl7Time(Date.now())}||${type}|M${messages}|P|2.6|||${accept ?? ''}|${application ?? ''}`;
}

interface OruOptions {
  readonly patient?: string;
  readonly birthDate?: string;
  readonly family?: string;
  readonly device?: string;
  readonly takenMs?: number;
  readonly status?: string;
  readonly rows?: readonly string[];
}

function oru(options: OruOptions = {}): string[] {
  const {
    patient,
    birthDate = '19670321',
    family = 'Aldous',
    device = '0012340000009901',
    takenMs = START_MS,
  } = options;
  const { status = 'R' } = options;
  const at = hl7Time(takenMs);
  const rows = options.rows ?? [
    `OBX|1||69965^MDC_DEV_MON_PHYSIO_MULTI_PARAM_MDS^MDC|1.0.0.0|||||||X|||||||${device}^^${device}^EUI-64`,
    `OBX|2|NM|150456^MDC_PULS_OXIM_SAT_O2^MDC|1.2.1.150456|95|262688^MDC_DIM_PERCENT^MDC|||||${status}|||${at}`,
    `OBX|3|NM|149530^MDC_PULS_OXIM_PULS_RATE^MDC|1.2.1.149530|81|264864^MDC_DIM_BEAT_PER_MIN^MDC|||||${status}|||${at}`,
  ];
  return [
    header('ORU^R01^ORU_R01'),
    ...(patient === undefined
      ? []
      : [
          `PID|||${patient}^^^&${MRN}&URI^MR||${family}^Wren^^^^^L||${birthDate}|F`,
          'PV1||I|LARK^2^A',
        ]),
    `OBR|1||F${messages}^LARKMON|182777000^monitoring of patient^SCT|||${at}`,
    ...rows,
  ];
}

interface Found {
  readonly entry?: readonly {
    readonly search: { readonly mode: string };
    readonly resource: {
      readonly id: string;
      readonly status: string;
      readonly code: { readonly coding: readonly { readonly code: string }[] };
      readonly valueQuantity?: { readonly value: number };
      readonly meta: { readonly tag?: readonly { readonly code: string }[]; versionId: string };
    };
  }[];
}

const PANEL = '85353-1';

function isPanel({ code }: { code: { coding: readonly { code: string }[] } }): boolean {
  return code.coding.some((one) => one.code === PANEL);
}

/** The readings; see {@link panelsOf}. */
async function observationsOf(number: string) {
  return (await allOf(number)).filter((one) => !isPanel(one));
}

/** Version and status of each panel. */
async function panelsOf(number: string): Promise<string[]> {
  const panels = (await allOf(number)).filter(isPanel);
  return panels.map(({ meta, status }) => `${meta.versionId} ${status}`);
}

async function allOf(number: string) {
  const patients = await gateway.ask<Found>(`/fhir/Patient?identifier=${MRN}%7C${number}`, {
    token: reader,
  });
  const id = patients.body.entry?.find(({ search }) => search.mode === 'match')?.resource.id ?? '';
  const { body } = await gateway.ask<Found>(`/fhir/Observation?patient=${id}&_sort=date`, {
    token: reader,
  });
  return (body.entry ?? [])
    .filter(({ search }) => search.mode === 'match')
    .map(({ resource }) => resource);
}

describe('readings of a monitor', () => {
  it('are acknowledged once they are kept, and out as preliminary and unreviewed', async () => {
    await registerPatient(gateway, 'H-1');
    const told = await send(oru({ patient: 'H-1' }));
    expect(told).toContain(`MSA|CA|M${messages}\r`);
    const found = await observationsOf('H-1');
    expect(found.map(({ valueQuantity }) => valueQuantity?.value).toSorted()).toEqual([81, 95]);
    for (const { status, meta } of found) {
      expect(status).toBe('preliminary');
      expect(meta.tag?.map(({ code }) => code)).toContain('unreviewed');
    }
    expect(await panelsOf('H-1')).toEqual(['1 preliminary']);
  });

  it('are kept once, though the message comes again byte for byte', async () => {
    await registerPatient(gateway, 'H-2');
    const message = oru({ patient: 'H-2' });
    const [first, second] = [await send(message), await send(message)];
    expect(first).toContain('MSA|CA|');
    expect(second).toContain('MSA|CA|');
    expect(await observationsOf('H-2')).toHaveLength(2);
    expect(await panelsOf('H-2')).toHaveLength(1);
  });

  it('never go to another patient: a second identifier that differs holds them', async () => {
    await registerPatient(gateway, 'H-3');
    await send(oru({ patient: 'H-3', birthDate: '19500101' }));
    expect(await observationsOf('H-3')).toEqual([]);
    expect(await panelsOf('H-3')).toEqual([]);
  });

  it('of two patients in one message stay apart', async () => {
    await registerPatient(gateway, 'H-4');
    await registerPatient(gateway, 'H-5');
    const [msh, ...one] = oru({ patient: 'H-4', device: '0012340000009904' });
    const [, ...other] = oru({ patient: 'H-5', device: '0012340000009905' });
    const rows = other.map((row) => row.replace('|95|', '|93|').replace('|81|', '|64|'));
    await send([msh ?? '', ...one, ...rows]);
    const valuesOf = async (number: string) =>
      (await observationsOf(number)).map(({ valueQuantity }) => valueQuantity?.value).toSorted();
    expect(await valuesOf('H-4')).toEqual([81, 95]);
    expect(await valuesOf('H-5')).toEqual([64, 93]);
    expect([...(await panelsOf('H-4')), ...(await panelsOf('H-5'))]).toHaveLength(2);
  });

  it('are corrected and withdrawn by later messages of their source', async () => {
    await registerPatient(gateway, 'H-6');
    const device = '0012340000009906';
    await send(oru({ patient: 'H-6', device }));
    const correction = oru({ patient: 'H-6', device, status: 'C' });
    await send(correction.map((row) => row.replace('|95|', '|97|')).slice(0, -1));
    const corrected = await observationsOf('H-6');
    expect(corrected.map(({ valueQuantity }) => valueQuantity?.value).toSorted()).toEqual([81, 97]);
    await send(oru({ patient: 'H-6', device, status: 'D' }));
    const withdrawn = await observationsOf('H-6');
    expect(withdrawn.map(({ status }) => status)).toEqual(['entered-in-error', 'entered-in-error']);
    expect((await panelsOf('H-6'))[0]).toContain('entered-in-error');
  });
});

function associationMessage(
  action: 'associate' | 'disassociate',
  device: string,
  atMs: number,
  patient?: string,
): string[] {
  const code =
    action === 'associate'
      ? '198332^MDC_EVT_ASSOCIATION_PATIENT_DEVICE'
      : '198334^MDC_EVT_DISASSOCIATION_PATIENT_DEVICE';
  return [
    `${header('ORU^R01^ORU_R01', '|')}|||||IHE_PCD_PCIM^^1.3.6.1.4.1.19376.1.6.1.51.1^ISO`,
    ...(patient === undefined
      ? []
      : [`PID|||${patient}^^^&${MRN}&URI^MR||Aldous^Wren^^^^^L||19670321|F`]),
    `OBR|1||A${messages}|69136^MDC_OBS_ASSOCIATION_PATIENT_DEVICE^MDC|||${hl7Time(atMs)}`,
    `OBX|1|CWE|68487^MDC_ATTR_EVT_COND^MDC|0.0.0.1|${code}^MDC||||||F|||${hl7Time(atMs)}`,
    `PRT|A${messages}-1|UC||EQUIP^Equipment^HL70912||||||${device}^^${device}^EUI-64`,
  ];
}

describe('a device that a message makes a patient’s', () => {
  it('brings readings without a name to that patient, and to nobody after the end', async () => {
    await registerPatient(gateway, 'H-11');
    const device = '0012340000009911';
    const startMs = Date.now() - 10 * 60_000;
    expect(await send(associationMessage('associate', device, startMs, 'H-11'))).toContain(
      'MSA|AA|',
    );
    await send(oru({ device, takenMs: startMs + 5 * 60_000 }));
    expect(await observationsOf('H-11')).toHaveLength(2);
    await send(associationMessage('disassociate', device, startMs + 6 * 60_000));
    await send(oru({ device, takenMs: startMs + 8 * 60_000 }));
    expect(await observationsOf('H-11')).toHaveLength(2);
    expect(await panelsOf('H-11')).toHaveLength(1);
  });
});

function adt(
  event: string,
  number: string,
  extra: readonly string[] = [],
  pv1 = 'PV1||I|LARK^4^B',
): string[] {
  return [
    header(`ADT^${event}^ADT_A01`, '|'),
    `EVN|${event}|${hl7Time(Date.now())}`,
    `PID|||${number}^^^&${MRN}&URI^MR||Birch^Tamsin^^^^^L||19720614|F`,
    ...extra,
    pv1,
  ];
}

describe('the hospital’s register', () => {
  it('registers patients, and what waited for them goes on', async () => {
    const waiting = oru({
      patient: 'H-21',
      birthDate: '19720614',
      family: 'Birch',
      device: '0012340000009921',
    });
    await send(waiting);
    expect(await observationsOf('H-21')).toEqual([]);
    expect(await send(adt('A01', 'H-21'))).toContain('MSA|AA|');
    let found: unknown[] = [];
    for (let tries = 0; tries < 50 && found.length < 2; tries += 1) {
      await new Promise((resolve) => setTimeout(resolve, 100));
      found = await observationsOf('H-21');
    }
    expect(found).toHaveLength(2);
    expect(await panelsOf('H-21')).toEqual(['1 preliminary']);
  });

  it('merges two numbers of one person', async () => {
    await send(adt('A04', 'H-22'));
    await send(adt('A04', 'H-23'));
    await send(
      oru({ patient: 'H-22', birthDate: '19720614', family: 'Birch', device: '0012340000009922' }),
    );
    const told = await send(adt('A40', 'H-23', [`MRG|H-22^^^&${MRN}&URI^MR`]));
    expect(told).toContain('MSA|AA|');
    expect(await observationsOf('H-23')).toHaveLength(2);
    expect(await panelsOf('H-23')).toEqual(['2 preliminary']);
  });

  it('ends whose a device is when the patient leaves', async () => {
    await registerPatient(gateway, 'H-24', '1972-06-14');
    const device = '0012340000009924';
    const startMs = Date.now() - 10 * 60_000;
    const [associating] = [associationMessage('associate', device, startMs, 'H-24')];
    await send(associating.map((row) => row.replace('19670321', '19720614')));
    expect(await send(adt('A03', 'H-24'))).toContain('MSA|AA|');
    const { rows } = await gateway.database.pool.query<{ ended_by: string }>(
      `select a.ended_by from associations a join devices d using (device_key)
        where d.value like '%99-24'`,
    );
    expect(rows).toEqual([{ ended_by: 'discharge' }]);
  });

  it('is told when an event cannot be carried out', async () => {
    const told = await send(adt('A03', 'H-404'));
    expect(told).toContain('MSA|AE|');
    expect(told).toContain('not registered');
  });
});

describe('a code that no mapping knows', () => {
  it('is read by a replay once the mapping is in force, tried before', async () => {
    await registerPatient(gateway, 'H-31');
    const sources = await gateway.ask<{ sources: { source: string; name: string }[] }>(
      '/admin/sources',
      { token: admin },
    );
    const source = sources.body.sources.find(({ name }) => name.includes('unregistered'));
    const at = hl7Time(START_MS);
    const message = oru({
      patient: 'H-31',
      rows: [`OBX|1|NM|SAT9^Saturation^L|1.2.1.1|94|pct^percent^L|||||F|||${at}`],
    });
    await send(message);
    expect(await observationsOf('H-31')).toEqual([]);

    const base = `/admin/sources/${source?.source ?? ''}`;
    const mapping = {
      codes: [{ system: 'L', code: 'SAT9', vital: 'oxygen-saturation', method: 'pulse-oximetry' }],
      units: [{ alias: 'pct', unit: '%' }],
    };
    const proposed = await gateway.ask<{ number: number }>(`${base}/mappings`, {
      token: admin,
      body: { mapping, reason: 'From the maker’s list.' },
    });
    expect(proposed.status).toBe(201);
    const number = String(proposed.body.number);
    const tried = await gateway.ask<{ sets: { verdict: string }[] }>(
      `${base}/trial?mapping=${number}`,
      {
        token: admin,
        body: `${message.join('\r')}\r`,
        headers: { 'content-type': 'application/hl7-v2' },
      },
    );
    expect(tried.body.sets[0]).toMatchObject({ verdict: 'accepted', readings: [{ value: 94 }] });
    expect(await observationsOf('H-31')).toEqual([]);

    const forced = await gateway.ask(`${base}/mappings/${number}/force`, {
      token: admin,
      body: { reason: 'Tried with a message of the ward.' },
    });
    expect(forced.status).toBe(200);
    const looked = await gateway.ask<{ messages: { readings: unknown[] }[] }>('/review/replays', {
      token: analyst,
      body: { look: true },
    });
    expect(looked.body.messages.flatMap(({ readings }) => readings)).toMatchObject([
      { vital: 'oxygen-saturation', verdict: 'accepted', published: true, isNew: true },
    ]);
    expect(await observationsOf('H-31')).toEqual([]);
    const replayed = await gateway.ask<{ messages: { readings: unknown[] }[] }>('/review/replays', {
      token: analyst,
      body: {},
    });
    expect(replayed.body.messages.flatMap(({ readings }) => readings)).toMatchObject([
      { verdict: 'accepted', published: true, isNew: true },
    ]);
    expect(await observationsOf('H-31')).toMatchObject([{ valueQuantity: { value: 94 } }]);
    const again = await gateway.ask<{ messages: unknown[] }>('/review/replays', {
      token: analyst,
      body: {},
    });
    expect(again.body.messages).toEqual([]);
  });
});
