import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { prepareDemo } from '../../src/demo/prepare-demo.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

interface Ended {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

/** Runs the built command as `npm run example` does. */
function runExample(env: Readonly<Record<string, string>>): Promise<Ended> {
  return new Promise((resolve) => {
    const options = { env: { PATH: process.env.PATH, ...env } };
    execFile('node', ['dist/commands/example.js'], options, (error, out, err) => {
      resolve({ code: error === null ? 0 : Number(error.code), out, err });
    });
  });
}

/** One sentence or two, and no stack. */
const PLAIN = /^[A-Z“h][^\n]*\.\n$/;

describe('the example command', () => {
  let gateway: TestGateway;
  let dataDir: string;
  let shown: Ended;

  beforeAll(async () => {
    gateway = await openTestGateway();
    dataDir = await mkdtemp(join(tmpdir(), 'example-'));
    const { pipelineAt } = gateway.gateway;
    await prepareDemo({ pool: gateway.database.pool, dataDir, pipelineAt });
    shown = await runExample({ DATA_DIR: dataDir, PORT: new URL(gateway.url).port });
  });
  afterAll(async () => {
    await gateway.close();
    await rm(dataDir, { recursive: true });
  });

  it('ends well and tells nothing on the error stream', () => {
    expect(shown).toMatchObject({ code: 0, err: '' });
  });

  it('shows a verdict for each reading: conversion, counts, a note, a hold', () => {
    expect(shown.out).toMatch(/0 +respiratory-rate +accepted +16 \/min +N +counted 8 in 30 s/);
    expect(shown.out).toMatch(/1 +pulse-rate +noted +82 \/min/);
    expect(shown.out).toMatch(/4 +blood-pressure +held +118\/76 mm\[Hg\] +N\/N/);
    expect(shown.out).toMatch(
      /6 +body-temperature +noted +38\.28 Cel +H +entered as 100\.9 \[degF\]/,
    );
  });

  it('shows what the rules said, what to do and on what grounds', () => {
    expect(shown.out).toMatch(
      /blood-pressure-methods-disagree \(held, readings 4 and 5\)\n.*differ by 30 mmHg.*\n +What to do: .+\n +Grounds: .+/,
    );
    expect(shown.out).toContain('pulse-methods-differ (noted, readings 1 and 3)');
  });

  it('shows the Observations that the record sees, and that two readings are held', () => {
    const [, seen = ''] = shown.out.split('What the record sees');
    expect(seen).toMatch(/9279-1 [^\n]*: 16 breaths\/minute \(N\)/);
    expect(seen).toMatch(/8310-5 [^\n]*: 38\.28 °C \(H\)\n[^\n]*Status: final\. .*Site: /);
    // Five readings of the seven, and the panel of the five.
    expect(seen.match(/Observation\/[0-9a-f-]{36}/g)).toHaveLength(6);
    expect(seen).toMatch(/85353-1 [^\n]*: 5 members\n[^\n]*Status: final/);
    expect(seen).not.toContain('85354-9');
    expect(seen).toMatch(/[Hh]eld.*: 2\n$/);
  });

  it('can be run again', async () => {
    const again = await runExample({ DATA_DIR: dataDir, PUBLIC_URL: gateway.url });
    expect(again).toMatchObject({ code: 0, err: '' });
  });

  it('says so when no gateway runs there', async () => {
    const ended = await runExample({ DATA_DIR: dataDir, PORT: '1' });
    expect(ended).toMatchObject({ code: 1, out: '' });
    expect(ended.err).toMatch(PLAIN);
    expect(ended.err).toContain('No gateway answers at http://127.0.0.1:1.');
  });

  it('says so when there are no credentials', async () => {
    const ended = await runExample({ DATA_DIR: join(dataDir, 'elsewhere') });
    expect(ended).toMatchObject({ code: 1, out: '' });
    expect(ended.err).toMatch(PLAIN);
    expect(ended.err).toContain(join(dataDir, 'elsewhere', 'demo-clients.json'));
  });

  it('says so when the gateway knows other credentials, and shows none', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'example-'));
    const text = await readFile(join(dataDir, 'demo-clients.json'), 'utf8');
    const credentials = JSON.parse(text) as Record<string, string>[];
    const wrong = credentials.map((one) => ({ ...one, clientSecret: 'not-the-secret' }));
    await writeFile(join(folder, 'demo-clients.json'), JSON.stringify(wrong));
    const ended = await runExample({ DATA_DIR: folder, PORT: new URL(gateway.url).port });
    await rm(folder, { recursive: true });
    expect(ended).toMatchObject({ code: 1, out: '' });
    expect(ended.err).toMatch(PLAIN);
    expect(ended.err).not.toContain('not-the-secret');
  });

  it('says so when a variable cannot be used', async () => {
    const ended = await runExample({ DATA_DIR: dataDir, PORT: 'eighty' });
    expect(ended).toMatchObject({ code: 1, out: '' });
    expect(ended.err).toMatch(PLAIN);
  });
});
