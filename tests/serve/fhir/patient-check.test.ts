import type { OperationOutcome, Patient } from 'fhir/r4.js';
import fc from 'fast-check';
import { checkResource } from '../../../src/contract/check-resource.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';
import { FhirFixture } from './fhir-fixture.js';

const MRN = 'urn:example:mrn';
const GOOD: Patient = {
  resourceType: 'Patient',
  identifier: [{ use: 'usual', system: MRN, value: 'LF-1' }],
  name: [{ family: 'Amsel', given: ['Ida', 'Maria'], period: { start: '2001-02-03' } }],
  gender: 'female',
};

/** Elements that FHIR R4 allows, and that are taken. */
const GOOD_ELEMENTS: readonly Partial<Patient>[] = [
  { active: true, language: 'en-GB', maritalStatus: { text: 'widowed' } },
  { telecom: [{ system: 'phone', value: '555-0100', use: 'mobile', rank: 1 }] },
  { birthDate: '1958', deceasedDateTime: '2026-03-01T08:15:00+01:00' },
  {
    birthDate: '1958-11-02',
    _birthDate: { extension: [{ url: 'urn:x:t', valueDateTime: '1958-11-02T03:04:05Z' }] },
  },
  { multipleBirthInteger: 2, deceasedBoolean: false },
  { address: [{ line: ['Ward 12'], city: 'Larkfield', country: 'XX' }] },
  { contact: [{ relationship: [{ text: 'sister' }], name: { text: 'Ada' }, gender: 'unknown' }] },
  { communication: [{ language: { coding: [{ system: 'urn:ietf:bcp:47', code: 'sv' }] } }] },
  { meta: { tag: [{ system: 'urn:x:tag', code: 'a b' }], profile: ['http://x/y|1'] } },
  { managingOrganization: { identifier: { system: 'urn:x:org', value: '1' }, display: 'House' } },
  {
    extension: [
      {
        url: 'http://hl7.org/fhir/us/core/StructureDefinition/us-core-race',
        extension: [{ url: 'text', valueString: 'Unknown' }],
      },
    ],
  },
];

/** What is wrong, as code and place. */
function faults(change: object): string[] {
  return checkResource('Patient', { ...GOOD, ...change }).map(
    ({ code, expression }) => `${code} ${expression}`,
  );
}

describe('a Patient that can be kept', () => {
  it.each(GOOD_ELEMENTS)('%j', (elements) => {
    const patient = { ...GOOD, ...elements };
    expect(checkResource('Patient', patient)).toEqual([]);
    // HL7's own schema agrees.
    expect(schemaFaults('Patient', patient)).toEqual([]);
  });
});

describe('a Patient that cannot', () => {
  const deep = (levels: number): object =>
    levels === 0 ? { url: 'u', valueString: 'x' } : { url: 'u', extension: [deep(levels - 1)] };

  it.each([
    [{ favouriteColour: 'blue' }, 'structure Patient.favouriteColour'],
    [{ 'a<b>': 1 }, 'structure Patient'],
    [{ __proto__x: 1 }, 'structure Patient'],
    [{ constructor: 'x' }, 'structure Patient.constructor'],
    [{ toString: 'x' }, 'structure Patient.toString'],
    [{ _toString: {} }, 'structure Patient.toString'],
    [{ _id: { id: 'x' } }, 'structure Patient.id'],
    [
      { _birthDate: { extension: [{ url: 'urn:x:t' }] } },
      'invariant Patient.birthDate.extension[0]',
    ],
    [{ _name: [{ id: 'x' }] }, 'structure Patient.name'],
    [{ link: [{}] }, 'structure Patient.link'],
    [{ contained: [{}] }, 'structure Patient.contained'],
    [
      { modifierExtension: [{ url: 'x', valueBoolean: true }] },
      'structure Patient.modifierExtension',
    ],
    [{ birthDate: '1958-02-30' }, 'value Patient.birthDate'],
    [{ birthDate: '58-02-03' }, 'value Patient.birthDate'],
    [{ birthDate: 1958 }, 'value Patient.birthDate'],
    [{ birthDate: '1958-11-02T00:00:00Z' }, 'value Patient.birthDate'],
    [{ birthDate: null }, 'value Patient.birthDate'],
    [{ gender: 'F' }, 'value Patient.gender'],
    [{ gender: ['female'] }, 'value Patient.gender'],
    [{ active: 'true' }, 'value Patient.active'],
    [{ name: { family: 'x' } }, 'structure Patient.name'],
    [{ name: [] }, 'structure Patient.name'],
    [{ name: [null] }, 'structure Patient.name[0]'],
    [{ name: [{}] }, 'structure Patient.name[0]'],
    [{ name: ['x'] }, 'structure Patient.name[0]'],
    [{ name: [{ family: '' }] }, 'value Patient.name[0].family'],
    [{ name: [{ family: '   ' }] }, 'value Patient.name[0].family'],
    [{ name: [{ family: 'a\u0000b' }] }, 'value Patient.name[0].family'],
    [{ name: [{ family: 'a\u001bb' }] }, 'value Patient.name[0].family'],
    [{ name: [{ family: 'a\ud800b' }] }, 'value Patient.name[0].family'],
    [{ name: [{ given: ['a', null] }] }, 'value Patient.name[0].given[1]'],
    [{ name: [{ use: 'wrong', family: 'x' }] }, 'value Patient.name[0].use'],
    [{ identifier: [{ system: 'a b', value: 'x' }] }, 'value Patient.identifier[0].system'],
    [{ identifier: [{ system: 'a|b', value: 'x' }] }, 'value Patient.identifier[0].system'],
    [{ deceasedBoolean: true, deceasedDateTime: '2026' }, 'structure Patient'],
    [{ extension: [{ valueString: 'x' }] }, 'required Patient.extension[0]'],
    [{ extension: [{ url: 'x' }] }, 'invariant Patient.extension[0]'],
    [
      { extension: [{ url: 'x', valueString: 'a', valueCode: 'b' }] },
      'structure Patient.extension[0]',
    ],
    [{ communication: [{ preferred: true }] }, 'required Patient.communication[0]'],
    [{ resourceType: 'Observation' }, 'structure Patient.resourceType'],
  ])('%j: %s', (change, expected) => {
    expect(faults(change)).toEqual([expected]);
  });

  it('is nested without end', () => {
    expect(faults({ extension: [deep(8)] })).toEqual([]);
    expect(faults({ extension: [deep(5000)] })[0]).toMatch(/^structure Patient\.extension/);
  });

  it('is no object at all', () => {
    for (const value of [null, 1, 'Patient', [], [GOOD], {}]) {
      expect(checkResource('Patient', value)).toHaveLength(1);
    }
  });

  it('has its faults named, twenty at most', () => {
    expect(faults({ gender: 'F', birthDate: 'x' })).toHaveLength(2);
    expect(faults({ name: Array.from({ length: 50 }, () => ({})) })).toHaveLength(20);
  });

  it('never passes where the official schema finds a fault', () => {
    const leaf = fc.oneof(
      fc.constantFrom('x', '', 'female', '2026-03-01', '2026-02-31', 'a b', 'phone'),
      fc.integer(),
      fc.boolean(),
      fc.constant(null),
    );
    const element = fc.oneof(
      leaf,
      fc.array(leaf, { maxLength: 2 }),
      fc.dictionary(
        fc.constantFrom('system', 'value', 'text', 'family', 'given', 'url', 'use'),
        leaf,
      ),
      fc.array(
        fc.dictionary(fc.constantFrom('system', 'value', 'text', 'family', 'given', 'use'), leaf),
        { minLength: 1, maxLength: 2 },
      ),
    );
    const names = ['identifier', 'name', 'gender', 'birthDate', 'telecom', 'active', 'extension'];
    fc.assert(
      fc.property(fc.dictionary(fc.constantFrom(...names), element), (elements) => {
        const patient = { resourceType: 'Patient', ...elements };
        if (checkResource('Patient', patient).length === 0) {
          expect(schemaFaults('Patient', patient)).toEqual([]);
        }
      }),
      { numRuns: 2000 },
    );
  });
});

describe('over HTTP', () => {
  let fhir: FhirFixture;
  beforeAll(async () => {
    fhir = await FhirFixture.open();
  });
  afterAll(() => fhir.close());

  const put = (body: string, type = 'application/fhir+json') =>
    fhir.ask<OperationOutcome>(`Patient?identifier=${encodeURIComponent(`${MRN}|LF-1`)}`, {
      method: 'PUT',
      body,
      headers: { 'Content-Type': type },
    });

  it('each kind of fault has its status', async () => {
    const patient = (change: object): string => JSON.stringify({ ...GOOD, ...change });
    for (const [body, status, code] of [
      ['{', 400, 'structure'],
      ['', 400, 'structure'],
      ['[]', 400, 'structure'],
      ['"\\ud800"', 400, 'structure'],
      [patient({ favouriteColour: 1 }), 400, 'structure'],
      [patient({ birthDate: '1958-13' }), 400, 'value'],
      [patient({ name: [{ family: 'a\u0000' }] }), 400, 'value'],
      // US Core 9.0.0, us-core-patient: identifier with system and value, name, gender; whole telecoms.
      [patient({ gender: undefined }), 422, 'required'],
      [patient({ name: undefined }), 422, 'required'],
      [patient({ name: [{ prefix: ['Dr'] }] }), 422, 'required'],
      [patient({ identifier: [{ value: 'x' }] }), 422, 'required'],
      [patient({ telecom: [{ value: 'x' }] }), 422, 'required'],
      [patient({ contact: [{ gender: 'male' }] }), 422, 'invariant'],
      [patient({ text: { status: 'additional', div: '<div/>' } }), 422, 'not-supported'],
      [patient({ name: [{ family: 'x'.repeat(70_000) }] }), 413, 'too-long'],
    ] as const) {
      const answer = await put(body);
      expect([body.slice(0, 60), answer.status, answer.body.issue[0]?.code]).toEqual([
        body.slice(0, 60),
        status,
        code,
      ]);
    }
    const { rows } = await fhir.database.pool.query('select from patient_versions');
    expect(rows).toHaveLength(0);
  });

  it('names the elements by FHIRPath, twenty at most, and repeats no value', async () => {
    const unnamed = await put(JSON.stringify({ ...GOOD, name: [{ prefix: ['Dr'] }] }));
    expect(unnamed.body.issue).toEqual([
      {
        severity: 'error',
        code: 'required',
        details: { text: 'Patient.name with family, given or text is missing.' },
        expression: ['Patient.name'],
      },
    ]);
    const contact = Array.from({ length: 30 }, () => ({ telecom: [{ value: 'secret' }] }));
    const many = await put(JSON.stringify({ ...GOOD, contact }));
    expect(many.body.issue).toHaveLength(20);
    expect(many.body.issue[1]?.expression).toEqual(['Patient.contact[1].telecom[0]']);
    expect(many.text).not.toContain('secret');
  });

  it('the type of the body decides as well', async () => {
    const body = JSON.stringify(GOOD);
    for (const [type, status] of [
      ['application/json', 201],
      ['application/fhir+json; fhirVersion=4.0; charset=utf-8', 200],
      ['application/fhir+json; fhirVersion=3.0', 415],
      ['application/fhir+xml', 415],
      ['text/plain', 415],
      ['application/fhir+json; charset=utf-16', 415],
    ] as const) {
      expect([type, (await put(body, type)).status]).toEqual([type, status]);
    }
    const invalid = Buffer.concat([Buffer.from('{"resourceType":"'), Buffer.from([0xff])]);
    const answer = await fhir.ask('Patient?identifier=a%7Cb', {
      method: 'PUT',
      body: invalid,
      headers: { 'Content-Type': 'application/fhir+json' },
    });
    expect(answer.status).toBe(400);
  });
});
