/** Who did something, as Provenance and AuditEvent refer to them: by identifier, for nobody of them is a resource here. */
import type { Reference } from 'fhir/r4.js';
import type { NamedProgram } from '../../store/provenance-search.js';
import type { Identifier } from '../../vitals/shapes.js';

export const CLIENT_SYSTEM = 'urn:vital-sign-gateway:client';
const SOURCE_SYSTEM = 'urn:vital-sign-gateway:source';
const SOFTWARE_SYSTEM = 'urn:vital-sign-gateway:software';

export const GATEWAY_NAME = 'Vital-sign gateway';

/** The gateway itself. */
export const GATEWAY: Reference = {
  type: 'Device',
  identifier: { system: SOFTWARE_SYSTEM, value: 'vital-sign-gateway' },
  display: GATEWAY_NAME,
};

/** A program with an access of its own. */
export function programReference({ id, name }: NamedProgram): Reference {
  return { type: 'Device', identifier: { system: CLIENT_SYSTEM, value: id }, display: name };
}

/** A registered sender. */
export function sourceReference({ id, name }: NamedProgram): Reference {
  return { identifier: { system: SOURCE_SYSTEM, value: id }, display: name };
}

/** A person, by the identifier that the site gave. */
export function personReference(identifier: Identifier, display?: string): Reference {
  const { system, value } = identifier;
  const reference = { type: 'Practitioner', identifier: { system, value } };
  return display === undefined ? reference : { ...reference, display };
}
