import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { SENTENCES } from '../../src/contract/fault-words.js';
import { PUBLISHED_SCHEMAS, type SchemaName } from '../../src/contract/schemas.js';
import {
  DECISION_ACTIONS,
  OWN_DECISION_ACTIONS,
  REASON_CODES,
} from '../../src/vitals/decisions.js';
import { CATALOGUE } from '../../src/vitals/catalogue.js';
import {
  ABSENT_REASONS,
  CONSCIOUSNESS_CODES,
  CUFF_SIZES,
  ENTERED_UNITS,
  INTERPRETATIONS,
  METHODS,
  POSITIONS,
  SIDES,
  SITES,
  VERDICTS,
  VITALS,
} from '../../src/vitals/words.js';

/** A schema, or what lies at a path in it. */
function at(name: SchemaName, ...path: readonly (string | number)[]): unknown {
  return path.reduce<unknown>(
    (node, key) => (node as Record<string | number, unknown>)[key],
    PUBLISHED_SCHEMAS[name],
  );
}

function wordsAt(name: SchemaName, ...path: readonly (string | number)[]): unknown {
  return at(name, ...path, 'enum');
}

/** Each schema inside a schema, with the keyword path that leads to it. */
function subschemas(node: unknown, path = '#'): [path: string, schema: Record<string, unknown>][] {
  if (typeof node !== 'object' || node === null) return [];
  const own = Array.isArray(node) ? [] : [[path, node as Record<string, unknown>] as const];
  const children = Object.entries(node).flatMap(([key, child]) =>
    subschemas(child, `${path}/${key}`),
  );
  return [...own.map(([p, s]): [string, Record<string, unknown>] => [p, s]), ...children];
}

describe('the words of the schemas are those of the code', () => {
  it.each([
    ['vital', VITALS],
    ['method', METHODS],
    ['site', SITES],
    ['side', SIDES],
    ['cuffSize', CUFF_SIZES],
    ['code', CONSCIOUSNESS_CODES],
    ['absent', ABSENT_REASONS],
  ])('reading.%s', (member, words) => {
    expect(wordsAt('reading', 'properties', member)).toEqual([...words]);
  });

  it('positions, actions and reasons', () => {
    expect(wordsAt('reading', '$defs', 'position')).toEqual([...POSITIONS]);
    expect(wordsAt('decision', 'properties', 'action')).toEqual([...DECISION_ACTIONS]);
    expect(wordsAt('decision', 'properties', 'reasonCode')).toEqual([...REASON_CODES]);
    expect(wordsAt('own-decision', 'allOf', 0, 'properties', 'action')).toEqual([
      ...OWN_DECISION_ACTIONS,
    ]);
  });

  it('answers', () => {
    const reading = ['$defs', 'readingAnswer', 'properties'];
    expect(wordsAt('answer', '$defs', 'verdict')).toEqual([...VERDICTS]);
    expect(wordsAt('answer', ...reading, 'vital')).toEqual([...VITALS]);
    expect(wordsAt('answer', ...reading, 'code')).toEqual([...CONSCIOUSNESS_CODES]);
    expect(wordsAt('answer', ...reading, 'absent')).toEqual([...ABSENT_REASONS]);
    expect(wordsAt('answer', ...reading, 'interpretation', 'anyOf', 0)).toEqual([
      ...INTERPRETATIONS,
    ]);
  });

  it('units, in the description of a member that takes any', () => {
    const { description } = at('reading', 'properties', 'unit') as { description: string };
    for (const unit of ENTERED_UNITS) expect(description).toContain(unit);
  });

  it('the signs that need a method are those of the catalogue', () => {
    const branches = at('reading', 'else', 'allOf') as {
      then: { required?: string[] };
      if: unknown;
    }[];
    const needing = branches.filter(({ then }) => then.required?.includes('method'));
    const vitals = needing.map(
      (branch) => (branch.if as { properties: { vital: unknown } }).properties.vital,
    );
    expect(vitals).toEqual([{ enum: VITALS.filter((vital) => CATALOGUE[vital].methodRequired) }]);
  });
});

describe('as documents for other people', () => {
  it.each(Object.keys(PUBLISHED_SCHEMAS) as SchemaName[])('%s says what it is', (name) => {
    expect(PUBLISHED_SCHEMAS[name]).toMatchObject({
      $schema: 'https://json-schema.org/draft/2020-12/schema',
      $id: `urn:vital-sign-gateway:schema:${name}:1`,
      title: expect.any(String) as string,
      description: expect.any(String) as string,
    });
  });

  it.each(['reading', 'vital-sign-set', 'decision'] as const)(
    '%s describes each member',
    (name) => {
      for (const [member, schema] of Object.entries(
        at(name, 'properties') as Record<string, object>,
      )) {
        expect({ member, schema }).toMatchObject({
          schema: { description: expect.stringMatching(/\.$/) as string },
        });
      }
    },
  );

  it.each(['reading', 'vital-sign-set', 'decision'] as const)(
    '%s bounds every text that is sent',
    (name) => {
      const { $defs, properties } = PUBLISHED_SCHEMAS[name] as Record<string, unknown>;
      const texts = subschemas({ $defs, properties }).filter(([, { type }]) => type === 'string');
      for (const [path, schema] of texts) {
        const closed = 'enum' in schema || 'pattern' in schema;
        expect({ path, closed }).toEqual({ path, closed: true });
      }
    },
  );

  it('has a sentence for each definition of a text', () => {
    const definitions = at('reading', '$defs') as Record<string, { pattern?: string }>;
    const withPattern = Object.keys(definitions).filter(
      (name) => definitions[name]?.pattern !== undefined,
    );
    expect(Object.keys(SENTENCES).sort()).toEqual(withPattern.sort());
  });
});

describe('answers and problems', () => {
  const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true, strictTypes: false });
  addFormats.default(ajv);
  ajv.addSchema(Object.values(PUBLISHED_SCHEMAS));
  const faults = (name: SchemaName, value: unknown): unknown => {
    ajv.validate(PUBLISHED_SCHEMAS[name].$id, value);
    return ajv.errors ?? [];
  };

  it('describe what a sender gets', () => {
    const answer = {
      setId: '6f1d3c52-90a4-4c7e-8f0b-2a51c9d7e318',
      submission: '0197c1d2-0000-7000-8000-000000000001',
      verdict: 'held',
      readings: [
        {
          index: 0,
          reading: '0197c1d2-0000-7000-8000-000000000002',
          vital: 'body-temperature',
          verdict: 'accepted',
          observation: 'Observation/0197c1d2-0000-7000-8000-000000000002',
          value: 38.5,
          unit: 'Cel',
          entered: { value: '101.3', unit: '[degF]' },
          interpretation: 'H',
        },
        {
          index: 1,
          vital: 'blood-pressure',
          verdict: 'held',
          systolic: 171,
          diastolic: 88,
          unit: 'mm[Hg]',
          interpretation: { systolic: 'H', diastolic: 'N' },
        },
      ],
      findings: [
        {
          rule: 'blood-pressure-methods-disagree',
          verdict: 'held',
          readings: [1],
          message: 'The two pressures differ by 30 mmHg.',
          advice: 'Measure again.',
          figures: { difference: 30, limit: 25, unit: 'mm[Hg]' },
          source: 'A document, its section, its year',
        },
      ],
      edition: '1',
    };
    expect(faults('answer', answer)).toEqual([]);
    expect(faults('answer', { ...answer, verdict: 'maybe' })).not.toEqual([]);
    expect(faults('answer', { ...answer, findings: [{}] })).not.toEqual([]);
  });

  it('describe a refusal', () => {
    // The members of RFC 9457 §3.1, and the list of faults.
    const problem = {
      type: 'about:blank',
      title: 'Bad Request',
      status: 400,
      detail: 'The body is against the schema.',
      errors: [{ pointer: '/readings/0/value', message: 'must be a number' }],
    };
    expect(faults('problem', problem)).toEqual([]);
    expect(
      faults('problem', { ...problem, errors: [{ pointer: 'readings', message: '' }] }),
    ).not.toEqual([]);
  });
});
