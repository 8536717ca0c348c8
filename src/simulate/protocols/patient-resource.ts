import type { Patient } from 'fhir/r4.js';
import type { Person } from '../person.js';

/** A person as the register receives them: what US Core asks for at least, and the birth date. */
export function patientResource(person: Person): Patient {
  const { identifier, familyName, givenName, gender, birthDate } = person;
  const name = {
    ...(familyName !== undefined && { family: familyName }),
    ...(givenName !== undefined && { given: [givenName] }),
  };
  return {
    resourceType: 'Patient',
    identifier: [{ ...identifier }],
    ...(Object.keys(name).length > 0 && { name: [name] }),
    ...(gender !== undefined && { gender }),
    ...(birthDate !== undefined && { birthDate }),
  };
}
