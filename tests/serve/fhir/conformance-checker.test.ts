/** The checks of tests/fhir-validation, tried on Observations with one known fault each. */
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderObservation } from '../../../src/serve/fhir/render-observation.js';
import { renderPanel } from '../../../src/serve/fhir/render-panel.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { PRESSURE, samplePanel, sampleVersion } from './sample-version.js';

type Loose = Record<string, unknown>;

function saturation(): Loose {
  return JSON.parse(toFhirJson(renderObservation(sampleVersion()))) as Loose;
}

function pressure(): Loose {
  return JSON.parse(toFhirJson(renderObservation(sampleVersion(PRESSURE)))) as Loose;
}

function faultsOf(resource: Loose): string {
  return resourceFaults(JSON.stringify(resource)).join('\n');
}

const UCUM = 'http://unitsofmeasure.org';
const LOINC = 'http://loinc.org';
const quantity = (code: string): Loose => ({ value: 5, unit: code, system: UCUM, code });
const loinc = (...codes: string[]): Loose => ({
  coding: codes.map((code) => ({ system: LOINC, code })),
});

describe('the conformance checks', () => {
  it('find nothing wrong with what the faults below are made from', () => {
    expect(faultsOf(saturation())).toBe('');
    expect(faultsOf(pressure())).toBe('');
  });

  it.each<[string, RegExp, Loose]>([
    ['an element R4 does not have', /JSON Schema/, { valueDecimal: 5 }],
    ['an empty array', /ele-1|JSON Schema/, { note: [{}] }],
    ['value and reason together', /obs-6/, { dataAbsentReason: { text: 'x' } }],
    ['neither value nor reason', /vs-2/, { valueQuantity: undefined }],
    ['a time of the year alone', /vs-1/, { effectiveDateTime: '2026' }],
    ['a unit not of the profile', /unit \[degF\]/, { valueQuantity: quantity('[degF]') }],
    ['a quantity without code', /valueQuantity/, { valueQuantity: { value: 5, unit: '%' } }],
    ['a text as value', /value\[x\]/, { valueQuantity: undefined, valueString: '95' }],
    ['no generic code', /slice 2708-6/, { code: loinc('59408-5') }],
    ['one of the US Core pair only', /slice 59408-5/, { code: loinc('2708-6') }],
    ['the code of a panel part', /StructureDefinition\/bp: /, { code: loinc('8480-6') }],
    ['no category', /VSCat/, { category: [] }],
    ['no patient', /subject/, { subject: { reference: 'Device/1' } }],
    ['a device as performer', /performer/, { performer: [{ type: 'Device' }] }],
    [
      'two codes of the normality group',
      /normality/,
      {
        interpretation: ['H', 'L'].map((code) => ({
          coding: [
            { system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', code },
          ],
        })),
      },
    ],
    [
      'a measurement status that there is not',
      /normality/,
      {
        interpretation: [
          {
            coding: [
              {
                system: 'http://terminology.hl7.org/CodeSystem/measurement-status',
                code: 'doubtful',
              },
            ],
          },
        ],
      },
    ],
    ['an empty narrative', /txt-2/, narrative('<p> </p>')],
    ['a script in the narrative', /element script/, narrative('<script>x</script>')],
    ['a bare ampersand in the narrative', /bare &/, narrative('A & B')],
    ['an unclosed paragraph', /closes nothing|not closed/, narrative('<p>A')],
    ['an extension without value', /ext-1/, { extension: [{ url: 'urn:example:x' }] }],
    ['a contained resource', /JSON Schema/, { contained: [{ resourceType: 'Patient' }] }],
  ])('find %s', (_, fault, change) => {
    expect(faultsOf({ ...saturation(), ...change })).toMatch(fault);
  });

  it.each<[string, RegExp, (components: Loose[]) => Loose[]]>([
    ['a missing diastolic', /slice 8462-4/, (components) => components.slice(0, 1)],
    ['a doubled systolic', /slice 8480-6/, ([first = {}, ...rest]) => [first, first, ...rest]],
    ['a component without value or reason', /vs-3/, (all) => [...all, { code: loinc('8478-0') }]],
    [
      'a component in a unit outside ucum-vitals-common',
      /ucum-vitals-common/,
      (all) => [...all, { code: loinc('3151-8'), valueQuantity: quantity('L/min') }],
    ],
    [
      'a component with a coded value',
      /ucum-vitals-common/,
      (all) => [...all, { code: loinc('8358-4'), valueCodeableConcept: { text: 'adult' } }],
    ],
    [
      'a pressure part in another unit',
      /component 8480-6: unit/,
      ([first = {}, ...rest]) => [{ ...first, valueQuantity: quantity('%') }, ...rest],
    ],
  ])('find %s', (_, fault, change) => {
    const resource = pressure();
    const component = change(resource.component as Loose[]);
    expect(faultsOf({ ...resource, component })).toMatch(fault);
  });

  it.each<[string, RegExp, Loose]>([
    ['no members', /hasMember 1\.\./, { hasMember: undefined }],
    [
      'a patient as a member',
      /hasMember$/m,
      { hasMember: [{ reference: 'Patient/1', type: 'Patient' }] },
    ],
    ['a value', /value\[x\]/, { valueString: '7 signs' }],
    ['another code', /slice 85353-1/, { code: loinc('8867-4') }],
  ])('find a panel with %s', (_, fault, change) => {
    const panel = JSON.parse(toFhirJson(renderPanel(samplePanel()))) as Loose;
    expect(faultsOf(panel)).toBe('');
    expect(faultsOf({ ...panel, ...change })).toMatch(fault);
  });

  it('find a pressure that also has a value of its own', () => {
    const changed = { ...pressure(), valueQuantity: quantity('mm[Hg]') };
    expect(faultsOf(changed)).toMatch(/value\[x\]/);
  });
});

function narrative(inner: string): Loose {
  const div = `<div xmlns="http://www.w3.org/1999/xhtml">${inner}</div>`;
  return { text: { status: 'generated', div } };
}
