import { existsSync } from 'node:fs';
import { WARD, patientResource } from '../../src/demo/ward.js';
import { valueText } from '../../src/demo/print-answer.js';
import type { SetAnswer } from '../../src/demo/print-answer.js';
import { isKnownScope } from '../../src/serve/auth/scopes.js';
import { EXAMPLE_SET } from '../../src/serve/sets/example-set.js';
import { HOLD_KINDS, VERDICTS } from '../../src/vitals/words.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { codeBlocks, readDocument, tableRows } from './markdown.js';

const readme = readDocument('README.md');
const { scripts } = JSON.parse(readDocument('package.json')) as { scripts: Record<string, string> };

interface Answer extends SetAnswer {
  readonly readings: (SetAnswer['readings'][number] & { readonly interpretation: unknown })[];
  readonly findings: (SetAnswer['findings'][number] & {
    readonly figures?: Readonly<Record<string, unknown>>;
  })[];
}

describe('the worked set of the README', () => {
  const rows = tableRows(readme, 'index', 'vital', 'verdict', 'kept as', 'code', 'why');
  let gateway: TestGateway;
  let answer: Answer;

  beforeAll(async () => {
    gateway = await openTestGateway();
    const patient = WARD.find(({ mrn }) => mrn === EXAMPLE_SET.patient.identifier.value);
    if (patient === undefined) throw new Error('the patient of the example is not on the ward');
    const { system, value } = EXAMPLE_SET.patient.identifier;
    const registered = await gateway.ask(`/fhir/Patient?identifier=${system}%7C${value}`, {
      method: 'PUT',
      token: await gateway.token('system/Patient.cu'),
      body: patientResource(patient, Date.now()),
      headers: { 'content-type': 'application/fhir+json' },
    });
    expect(registered.status).toBe(201);
    const token = await gateway.token('sets.write');
    // As of today: what arrives months after its time is marked as late.
    const body = { ...EXAMPLE_SET, takenAt: new Date().toISOString() };
    answer = (await gateway.ask<Answer>('/sets', { token, body })).body;
  });
  afterAll(() => gateway.close());

  it('is the one that the example sends', () => {
    expect(JSON.parse(codeBlocks(readme, 'json')[0] ?? '')).toEqual(EXAMPLE_SET);
  });

  it('is judged as the table says', () => {
    expect(answer.verdict).toBe('held');
    expect(rows.map((row) => row.slice(0, 5))).toEqual(
      answer.readings.map((reading) => [
        String(reading.index),
        reading.vital,
        reading.verdict,
        valueText(reading),
        typeof reading.interpretation === 'string'
          ? reading.interpretation
          : Object.values(reading.interpretation as object)
              .slice(0, 2)
              .join('/'),
      ]),
    );
  });

  it('has the findings that the table names, with their figures', () => {
    const named = rows.flatMap(([index, , , , , why = '']) => {
      const [, rule, text] = /(\S+-\S+): (.*)$/.exec(why) ?? [];
      return rule === undefined ? [] : [{ index: Number(index), rule, text }];
    });
    expect(named.map(({ rule }) => rule).sort()).toEqual(
      answer.findings.map(({ rule }) => rule).sort(),
    );
    for (const { index, rule, text } of named) {
      const finding = answer.findings.find((one) => one.rule === rule);
      expect(finding?.readings).toContain(index);
      expect(text).toContain(`${String(finding?.figures?.difference)} `);
      expect(text).toContain(`${String(finding?.figures?.limit)} is the limit`);
    }
  });

  it('shows what the section promises: accepted, a note, a hold, a conversion and counts', () => {
    const verdicts = new Set(answer.readings.map(({ verdict }) => verdict));
    expect([...verdicts].sort()).toEqual(['accepted', 'held', 'noted']);
    const entered = answer.readings.flatMap((one) => (one.entered ? [one.entered] : []));
    expect(entered.filter((one) => 'count' in one)).toHaveLength(2);
    expect(entered.filter((one) => 'value' in one)).toHaveLength(1);
  });
});

describe('the README', () => {
  it('explains every verdict and every kind of hold', () => {
    const verdicts = tableRows(readme, 'verdict', 'means', 'Observation').map(([name]) => name);
    expect(verdicts).toEqual([...VERDICTS]);
    expect(tableRows(readme, 'in doubt')).toHaveLength(HOLD_KINDS.length);
  });

  it('names the scripts that a user needs, and no script that there is not', () => {
    const named = new Set(
      [...readme.matchAll(/npm (?:run )?([a-z]+)/g)]
        .map(([, name = '']) => name)
        .filter((name) => name !== 'ci' && name !== 'run'),
    );
    expect([...named].sort()).toEqual([
      ...['audit', 'client', 'example', 'migrate', 'simulate', 'start', 'test'],
    ]);
    for (const name of named) expect(scripts).toHaveProperty(name);
  });

  it('names scopes that there are', () => {
    const named = tableRows(readme, 'scope', 'allows').flatMap(([scopes = '']) =>
      scopes.split(', '),
    );
    expect(named.length).toBeGreaterThan(5);
    for (const scope of named) expect([scope, isKnownScope(scope)]).toEqual([scope, true]);
  });

  it('links to files that there are', () => {
    const links = [...readme.matchAll(/\]\(([^)#]+)\)/g)].map(([, target = '']) => target);
    const files = links.filter((target) => !target.startsWith('https://'));
    expect(files).toEqual(expect.arrayContaining(['LICENSE', 'CHANGELOG.md', 'DEVELOPERS.md']));
    for (const file of files) expect([file, existsSync(file)]).toEqual([file, true]);
  });

  it('says before anything else is said that it is not for monitoring or alarms', () => {
    const first = readme.split('\n## ')[0] ?? '';
    expect(first).toContain('not for monitoring or alarms');
  });
});
