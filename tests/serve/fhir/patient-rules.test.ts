import type { Patient, PatientContact, Reference } from 'fhir/r4.js';
import fc from 'fast-check';
import { checkResource } from '../../../src/contract/check-resource.js';
import { brokenRules } from '../../../src/serve/fhir/patient-rules.js';
import { RESOURCE_TYPES } from '../../../src/serve/fhir/resource-types.js';
import { invariantFaults } from '../../fhir-validation/invariants.js';
import { schemaResourceTypes } from '../../fhir-validation/r4-json-schema.js';

/** What is wrong, as code and place, with a Patient whose elements are good. */
function faults(change: Partial<Patient>): string[] {
  const patient: Patient = { resourceType: 'Patient', ...change };
  expect(checkResource('Patient', patient)).toEqual([]);
  return brokenRules(patient).map(({ code, expression = '' }) => `${code} ${expression}`);
}

const general = (reference: string, more: Reference = {}): Partial<Patient> => ({
  generalPractitioner: [{ reference, ...more }],
});
const managing = (value: Reference): Partial<Patient> => ({ managingOrganization: value });
const period = (start: string, end: string): Partial<Patient> => ({
  name: [{ family: 'Amsel', period: { start, end } }],
});

describe('a Patient of good elements', () => {
  it.each<Partial<Patient>>([
    { contact: [{ telecom: [{ system: 'phone', value: '555-0100' }, { use: 'home' }] }] },
    { contact: [{ address: { city: 'Larkfield' } }, { organization: { display: 'House' } }] },
    {
      contact: [
        { telecom: [{ value: '1', _system: { extension: [{ url: 'x:y', valueCode: 'z' }] } }] },
      ],
    },
    period('2026-03-01', '2026-03-01'),
    period('2026-03-09', '2026-03'),
    period('2026', '2026-01-01T00:00:00Z'),
    period('2026-03-01T23:30:00-05:00', '2026-03-02T04:31:00Z'),
    general('Practitioner/1'),
    general('PractitionerRole/1/_history/2', { type: 'PractitionerRole' }),
    general('https://example.org/fhir/r4/Organization/x.1-2', { type: 'Organization' }),
    // Not the RESTful form: what these point to is not told.
    general('https://example.org/Houses/1'),
    general('https://example.org/Device/1?x=y', { type: 'Practitioner' }),
    general('urn:uuid:0197f3c0-0000-7000-8000-000000000001'),
    managing({ type: 'Organization', display: 'House' }),
    { extension: [{ url: 'urn:x:any', valueReference: { reference: 'Device/1' } }] },
    // R4, Extensibility: the parts of a complex extension have relative names.
    { extension: [{ url: 'urn:x:y', extension: [{ url: 'part', valueString: 'x' }] }] },
    { identifier: [{ value: 'without a system' }] },
  ])('%j breaks no rule', (change) => {
    expect(faults(change)).toEqual([]);
  });

  it.each<[Partial<Patient>, string]>([
    [{ contact: [{ gender: 'male' }] }, 'invariant Patient.contact[0]'],
    [
      { contact: [{ name: { text: 'Ada' } }, { relationship: [{ text: 'sister' }] }] },
      'invariant Patient.contact[1]',
    ],
    [
      { contact: [{ telecom: [{ use: 'home' }, { value: '555' }] }] },
      'invariant Patient.contact[0].telecom[1]',
    ],
    [period('2026-03-02', '2026-03-01'), 'invariant Patient.name[0].period'],
    [period('2027', '2026-03-01'), 'invariant Patient.name[0].period'],
    [
      period('2026-03-02T04:32:00Z', '2026-03-01T23:31:59-05:00'),
      'invariant Patient.name[0].period',
    ],
    [period('2026-03-02T04:32:00Z', '2026-03-01'), 'invariant Patient.name[0].period'],
    [
      { extension: [{ url: 'x:y', valuePeriod: { start: '2002', end: '2001' } }] },
      'invariant Patient.extension[0].valuePeriod',
    ],
    [general('#gp'), 'value Patient.generalPractitioner[0].reference'],
    [general('#'), 'value Patient.generalPractitioner[0].reference'],
    [general('Dr Weiss'), 'value Patient.generalPractitioner[0].reference'],
    [general('Practitioner/1 '), 'value Patient.generalPractitioner[0].reference'],
    [general('Practitioner'), 'value Patient.generalPractitioner[0].reference'],
    [general('/Practitioner/1'), 'value Patient.generalPractitioner[0].reference'],
    [general('Practitioner/1/2'), 'value Patient.generalPractitioner[0].reference'],
    [general('Practitioner/1/_history/'), 'value Patient.generalPractitioner[0].reference'],
    [general('Practitioner?identifier=a'), 'value Patient.generalPractitioner[0].reference'],
    [general('practitioner/1'), 'value Patient.generalPractitioner[0].reference'],
    [general('https://example.org/a b'), 'value Patient.generalPractitioner[0].reference'],
    [general('Device/1'), 'value Patient.generalPractitioner[0].reference'],
    [general('https://x.org/Device/1'), 'value Patient.generalPractitioner[0].reference'],
    [
      general('Practitioner/1', { type: 'Organization' }),
      'value Patient.generalPractitioner[0].type',
    ],
    [managing({ reference: 'Practitioner/1' }), 'value Patient.managingOrganization.reference'],
    [managing({ type: 'Patient', display: 'x' }), 'value Patient.managingOrganization.type'],
    [
      { contact: [{ organization: { reference: 'Patient/1' } }] },
      'value Patient.contact[0].organization.reference',
    ],
    [
      { identifier: [{ value: '1', assigner: { reference: 'Patient/1' } }] },
      'value Patient.identifier[0].assigner.reference',
    ],
    [
      { extension: [{ url: 'x:y', valueReference: { type: 'Ward', display: 'x' } }] },
      'value Patient.extension[0].valueReference.type',
    ],
    [{ identifier: [{ system: 'mrn', value: '1' }] }, 'value Patient.identifier[0].system'],
    [{ identifier: [{ system: '/mrn', value: '1' }] }, 'value Patient.identifier[0].system'],
    [{ extension: [{ url: 'race', valueString: 'x' }] }, 'value Patient.extension[0].url'],
    [
      { birthDate: '1958', _birthDate: { extension: [{ url: 'time', valueString: 'x' }] } },
      'value Patient.birthDate.extension[0].url',
    ],
    [
      {
        address: [{ city: 'x', extension: [{ url: 'geo', valueString: 'x' }] }],
      },
      'value Patient.address[0].extension[0].url',
    ],
  ])('%j: %s', (change, expected) => {
    expect(faults(change)).toEqual([expected]);
  });

  it('knows the resource types of HL7’s JSON Schema of R4', () => {
    expect([...RESOURCE_TYPES].sort()).toEqual(schemaResourceTypes().sort());
  });
});

describe('the published invariants, evaluated by a FHIRPath engine, agree', () => {
  const agree = (contact: PatientContact): void => {
    const patient: Patient = { resourceType: 'Patient', contact: [contact] };
    const published = invariantFaults(patient).filter((fault) =>
      /(pat-1|cpt-2|per-1)$/.test(fault),
    );
    const ours = brokenRules(patient).map(({ text }) => `invariant ${/\((.*)\)/.exec(text)?.[1]}`);
    expect(new Set(ours)).toEqual(new Set(published));
  };

  it('on contacts (pat-1, cpt-2)', () => {
    const telecom = fc.array(
      fc.record(
        {
          system: fc.constant('phone' as const),
          value: fc.constant('555'),
          use: fc.constant('home' as const),
        },
        { requiredKeys: ['use'] },
      ),
      { minLength: 1, maxLength: 3 },
    );
    const contact = fc.record(
      {
        gender: fc.constant('other' as const),
        name: fc.constant({ text: 'Ada' }),
        telecom,
        address: fc.constant({ city: 'Larkfield' }),
        organization: fc.constant({ display: 'House' }),
      },
      { requiredKeys: ['gender'] },
    );
    fc.assert(fc.property(contact, agree));
  });

  it('on periods of dates, and on periods of moments (per-1)', () => {
    const moment = fc.date({
      min: new Date('2025-12-30T00:00:00Z'),
      max: new Date('2026-01-03T00:00:00Z'),
      noInvalidDate: true,
    });
    const day = fc
      .tuple(moment, fc.constantFrom(4, 7, 10))
      .map(([at, length]) => at.toISOString().slice(0, length));
    const instant = fc
      .tuple(moment, fc.constantFrom('Z', '-05:00', '+14:00'))
      .map(([at, offset]) => at.toISOString().replace('Z', offset));
    const pair = fc.oneof(fc.tuple(day, day), fc.tuple(instant, instant));
    fc.assert(
      fc.property(pair, ([start, end]) => {
        agree({ name: { text: 'Ada' }, period: { start, end } });
      }),
    );
  });
});
