import type { Extension, Patient } from 'fhir/r4.js';
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderPatient } from '../../../src/serve/fhir/render-patient.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';

const US_CORE_PATIENT = 'http://hl7.org/fhir/us/core/StructureDefinition/us-core-patient';
const stampMs = Date.UTC(2026, 2, 2, 9, 30, 0, 7);

const registered: Patient = {
  resourceType: 'Patient',
  identifier: [{ system: 'urn:example:mrn', value: 'LF-20555' }],
  name: [{ family: 'Sandlund', given: ['Ottilie', 'M.'] }],
  gender: 'female',
  birthDate: '1951-07-19',
  address: [{ city: 'Larkfield' }],
};

function render(resource: Patient): Patient {
  return renderPatient({ id: '0197-p1', version: 3, stampMs, resource });
}

function usCore(name: string): Extension {
  return { url: `http://hl7.org/fhir/us/core/StructureDefinition/${name}`, valueString: 'x' };
}

describe('renderPatient', () => {
  it('states id, version and stamp itself and passes the registered elements through', () => {
    const sent: Patient = {
      ...registered,
      id: 'chosen-by-the-sender',
      meta: {
        versionId: '99',
        lastUpdated: '1999-01-01T00:00:00Z',
        profile: ['urn:example:claimed'],
        tag: [{ system: 'urn:example:tags', code: 'drill' }],
      },
      text: { status: 'generated', div: '<div><script>alert(1)</script></div>' },
    };
    const patient = render(sent);
    expect(patient).toMatchObject({ ...registered, id: '0197-p1' });
    expect(patient.meta).toEqual({
      versionId: '3',
      lastUpdated: '2026-03-02T09:30:00.007Z',
      profile: [US_CORE_PATIENT],
      tag: [{ system: 'urn:example:tags', code: 'drill' }],
    });
    expect(patient.text?.div).toContain('Ottilie M. Sandlund, gender female, born 1951-07-19');
    expect(toFhirJson(patient)).not.toContain('script');
    expect(resourceFaults(toFhirJson(patient))).toEqual([]);
  });

  // US Core 9.0.0, General Requirements, "Missing Data": mandatory elements say that they are unknown.
  it.each<[string, Patient]>([
    ['no name', { resourceType: 'Patient', identifier: registered.identifier ?? [] }],
    ['a name of text alone', { ...registered, name: [{ text: 'Unknown man, bay 4' }] }],
    [
      'a name told as absent',
      render({ resourceType: 'Patient', identifier: registered.identifier ?? [] }),
    ],
  ])('meets the US Core minimum with %s', (_, resource) => {
    const patient = render(resource);
    expect(patient.meta?.profile).toEqual([US_CORE_PATIENT]);
    expect(patient.name).toHaveLength(1);
    expect(resourceFaults(toFhirJson(patient))).toEqual([]);
  });

  // US Core 9.0.0 binds and counts what stands in its extensions; nobody here checks that.
  it.each<[string, Partial<Patient>]>([
    ['the Patient', { extension: [usCore('us-core-race')] }],
    ['a name', { name: [{ family: 'Sandlund', extension: [usCore('us-core-other')] }] }],
    ['a birth date', { _birthDate: { extension: [usCore('us-core-birthsex')] } }],
  ])('vouches for no extension of US Core on %s', (_, change) => {
    const patient = render({ ...registered, ...change });
    expect(patient.meta?.profile).toBeUndefined();
    expect(patient).toMatchObject(change);
  });

  it('vouches for a Patient with extensions of others', () => {
    const extension = [{ url: 'http://hl7.org/fhir/us/other', valueString: 'x' }];
    expect(render({ ...registered, extension }).meta?.profile).toEqual([US_CORE_PATIENT]);
  });

  // FHIR R4, Resource.language: it does not hold for the narrative, which is to name its own.
  it('says that its narrative is English, whatever the language of the resource', () => {
    const patient = render({ ...registered, language: 'sv' });
    expect(patient.language).toBe('sv');
    expect(patient.text?.div).toMatch(
      /^<div xmlns="http:\/\/www\.w3\.org\/1999\/xhtml" lang="en" xml:lang="en">/,
    );
    expect(resourceFaults(toFhirJson(patient))).toEqual([]);
  });

  // Unicode UAX #9, explicit directional formatting characters.
  it('shows no text in an order that is not its own', () => {
    const given = ['\u202eA\u202d', '\u202a\u202b\u202c', '\u2066\u2067\u2068B\u2069'];
    const div = render({ ...registered, name: [{ given }] }).text?.div ?? '';
    expect(div).toContain('<p>\ufffdA\ufffd \ufffd\ufffd\ufffd \ufffd\ufffd\ufffdB\ufffd, gender');
  });

  it('says unknown for a gender that nobody registered', () => {
    const patient = render({ resourceType: 'Patient', name: registered.name ?? [] });
    expect(patient.gender).toBe('unknown');
  });

  // US Core 9.0.0, us-core-patient: identifier.system, identifier.value, telecom.system, telecom.value 1..1.
  it.each<[string, Partial<Patient>]>([
    ['no identifier', { identifier: [] }],
    ['an identifier without system', { identifier: [{ value: 'LF-1' }] }],
    ['a telecom without value', { telecom: [{ system: 'phone' }] }],
  ])('claims no US Core profile with %s', (_, change) => {
    expect(render({ ...registered, ...change }).meta?.profile).toBeUndefined();
  });
});
