import { spawn } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { readCredentials } from '../../src/demo/demo-clients.js';
import { prepareDemo } from '../../src/demo/prepare-demo.js';
import { WARD, patientResource } from '../../src/demo/ward.js';
import type { TallyReport } from '../../src/simulate/tally.js';
import { acknowledge, closeAll, openListener } from '../intake/hl7v2/open-listener.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

interface Ended {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

interface Running {
  readonly variables?: Readonly<Record<string, string>>;
  readonly onOut?: (out: string, interrupt: () => void) => void;
}

let env: Readonly<Record<string, string>> = {};

/** Runs the built command as `npm run simulate` does. */
function run(line: string, { onOut, variables = {} }: Running = {}): Promise<Ended> {
  return new Promise((resolve) => {
    const args = ['dist/commands/simulate.js', ...line.split(' ')];
    const child = spawn('node', args, {
      env: { PATH: process.env.PATH, ...env, ...variables },
    });
    let [out, err] = ['', ''];
    child.stdout.on('data', (chunk: Buffer) => {
      out += chunk.toString();
      onOut?.(out, () => child.kill('SIGINT'));
    });
    child.stderr.on('data', (chunk: Buffer) => (err += chunk.toString()));
    child.on('close', (code) => {
      resolve({ code: code ?? -1, out, err });
    });
  });
}

async function tallyOf(line: string): Promise<TallyReport> {
  const { code, out, err } = await run(`${line} --json`);
  if (code !== 0) throw new Error(out + err);
  expect({ code, err }).toEqual({ code: 0, err: '' });
  return JSON.parse(out) as TallyReport;
}

/** The counts of each fault; accepted and noted as one, because some values change with the hour of the day. */
function madeIn({ faults }: TallyReport): Record<string, Record<string, number>> {
  return Object.fromEntries(
    Object.entries(faults).map(([fault, { made }]) => {
      const { accepted = 0, noted = 0, ...others } = made;
      const good = accepted + noted;
      return [fault, { ...others, ...(good > 0 && { good }) }];
    }),
  );
}

/** Within seconds a message of each kind of device with each fault. */
const SEEDED = '--devices 24 --rate 12 --seconds 4 --faults 0.75 --seed 62';

/** One sentence or two, and no stack. */
const PLAIN = /^[A-Z“-][^\n]*\.\n$/;

describe('the simulator', () => {
  let gateway: TestGateway;
  let dataDir: string;

  beforeAll(async () => {
    gateway = await openTestGateway({ MLLP_PORT: '0' });
    dataDir = await mkdtemp(join(tmpdir(), 'simulate-'));
    const { pipelineAt } = gateway.gateway;
    await prepareDemo({ pool: gateway.database.pool, dataDir, pipelineAt });
    const mllpPort = await gateway.gateway.listenForMessages();
    env = { DATA_DIR: dataDir, PORT: new URL(gateway.url).port, MLLP_PORT: String(mllpPort) };
  });
  afterEach(closeAll);
  afterAll(async () => {
    await gateway.close();
    await rm(dataDir, { recursive: true });
  });

  /** What must come of the seeded run: every kind of device has a wrong unit, a cuff's is held. */
  const MADE = {
    'swapped-patient': { held: 5 },
    'wrong-unit': { held: 3, rejected: 7 },
    'clock-hour-off': { good: 3, held: 3 },
    duplicate: { good: 5 },
    'cut-frame': { good: 7 },
    none: { good: 8 },
  };
  const ALL = { messages: 53, answered: 53, lost: 0, notMeasured: 0, isGood: true };

  it('tells what the gateway made of sets in JSON, fault by fault', async () => {
    const report = await tallyOf(`--speak json ${SEEDED}`);
    expect(report).toMatchObject(ALL);
    // A thermometer without a signal says so, the others show zero.
    expect(madeIn(report)).toEqual({ ...MADE, 'loose-probe': { good: 1, rejected: 6 } });
  });

  it('tells it of HL7 v2 and FHIR too, by what the review has of each message', async () => {
    const report = await tallyOf(`--speak hl7v2,fhir ${SEEDED}`);
    expect(report).toMatchObject(ALL);
    expect(report.protocols.hl7v2?.answers).toEqual({ CA: report.protocols.hl7v2?.messages });
    expect(report.protocols.fhir?.answers).toEqual({ 200: report.protocols.fhir?.messages });
    expect(madeIn(report)).toEqual({ ...MADE, 'loose-probe': { good: 6, 'no reading': 1 } });
  });

  it('shows a line a message, and a table', async () => {
    const { code, out } = await run('--rate 4 --seconds 1 --faults 1 --fault-kinds duplicate');
    expect(code).toBe(0);
    expect(out).toMatch(
      /^\d\d:\d\d:\d\d {2}monitor 1 +json +201, 201 +accepted +\d+ ms +duplicate$/m,
    );
    expect(out).toContain('Nothing was lost, and every answer is what it should be.');
    for (const { mrn, familyName } of WARD) {
      expect(out).not.toContain(mrn);
      expect(out).not.toContain(familyName);
    }
  });

  it('registers more invented people where the demo ward has too few beds', async () => {
    const report = await tallyOf(
      '--devices 60 --rate 30 --seconds 2 --faults 0 --speak json,hl7v2',
    );
    expect(report).toMatchObject({ messages: 60, answered: 60, lost: 0 });
    const again = await tallyOf(
      '--devices 60 --rate 30 --seconds 2 --faults 0 --speak json --seed 2',
    );
    expect(madeIn(again)).toEqual({ none: { good: 60 } });
  });

  it('ends with the tally on Ctrl-C', async () => {
    let isInterrupted = false;
    const { code, out } = await run('--seconds 0 --speak json --rate 5', {
      onOut: (shown, interrupt) => {
        if (isInterrupted || shown.split('\n').length < 4) return;
        isInterrupted = true;
        interrupt();
      },
    });
    expect(code).toBe(0);
    expect(out).toContain('Nothing was lost');
  });

  it('ends with code 1 when a message is never acknowledged', async () => {
    const listener = await openListener({
      limits: { stopTimeoutMs: 50 },
      handle: () => new Promise(() => undefined),
    });
    const line = `--speak hl7v2 --devices 2 --rate 1 --seconds 1 --wait 1 --mllp 127.0.0.1:${listener.port}`;
    const { code, out } = await run(line);
    expect(code).toBe(1);
    expect(out).toContain('Lost: 1, never answered');
  });

  it('ends with code 1 when an answer is not what it should be', async () => {
    const listener = await openListener({ handle: (bytes) => Promise.resolve(acknowledge(bytes)) });
    const line = `--speak hl7v2 --devices 2 --rate 1 --seconds 1 --wait 1 --mllp 127.0.0.1:${listener.port}`;
    const { code, out } = await run(line);
    expect(code).toBe(1);
    expect(out).toContain('the HL7 v2 listener sent a message that acknowledges nothing');
  });

  describe('says in a sentence', () => {
    it.each([
      ['that an option is wrong', '--rate fast', 'it must be a number'],
      ['that no gateway answers', '--gateway http://127.0.0.1:1', 'No gateway answers at'],
      ['that no listener answers', '--mllp 127.0.0.1:1', 'No HL7 v2 listener can be spoken to'],
      ['that a file is missing', '--credentials nowhere.json', 'nowhere.json'],
      ['that a file is not what it should be', '--patients package.json', 'Bundle of Patients'],
    ])('%s', async (_what, line, words) => {
      const ended = await run(line);
      expect(ended).toMatchObject({ code: 1, out: '' });
      expect(ended.err).toMatch(PLAIN);
      expect(ended.err).toContain(words);
    });

    it('that a client may not look patients up', async () => {
      const ended = await run('--speak json', { variables: await asSender() });
      expect(ended).toMatchObject({ code: 1, out: '' });
      expect(ended.err).toMatch(PLAIN);
      expect(ended.err).toContain('no client has the scope system/Patient.s');
    });
  });

  it('sends for the patients of a file, as a client of the environment', async () => {
    const file = join(dataDir, 'patients.json');
    const entry = WARD.slice(5, 7).map((patient) => ({
      resource: patientResource(patient, Date.now()),
    }));
    await writeFile(file, JSON.stringify({ resourceType: 'Bundle', type: 'collection', entry }));
    const line = `--patients ${file} --rate 4 --seconds 2 --faults 0 --json`;
    const { out } = await run(line, { variables: await asSender() });
    // Nobody may ask the review: of HL7 v2 it is known that it was taken.
    expect(madeIn(JSON.parse(out) as TallyReport)).toEqual({
      none: { good: 3, acknowledged: 2, published: 3 },
    });
  });

  async function asSender(): Promise<Record<string, string>> {
    const credentials = await readCredentials(dataDir);
    const sender = credentials?.find(({ role }) => role === 'sender');
    return {
      SIMULATE_CLIENT_ID: sender?.clientId ?? '',
      SIMULATE_CLIENT_SECRET: sender?.clientSecret ?? '',
    };
  }
});
