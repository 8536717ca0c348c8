/** Whose readings they are, as a reference or a Patient says. Nobody is ever registered from here. */
import type { IdentityDoubt } from '../../vitals/device-report.js';
import type { DeliveredPatient, Identifier } from '../../vitals/shapes.js';
import { UNIDENTIFIED_SYSTEM } from '../../vitals/unidentified.js';
import { IDENTIFIER_RULE, isIdentifierValue, readIdentifier } from './identifiers.js';
import type { ReferenceMap, Home, SentReference } from './references.js';
import type { KnownPatient, Register } from './register.js';
import { asList, asObject, asText, type Json } from './sent-entry.js';

export type PatientFound =
  | { readonly patient: DeliveredPatient }
  /** Why there is none, to follow the name of the element. */
  | { readonly why: string; readonly several?: true };

/** Who a subject is. */
export function findPatient(
  sent: SentReference,
  home: Home,
  references: ReferenceMap,
  register: Register,
  defaultAuthority: string | null,
): PatientFound {
  const located = references.locate(sent, home);
  switch (located.in) {
    case 'nowhere':
      return { why: located.why };
    case 'name':
      return { patient: { identifier: located.identifier } };
    case 'delivery': {
      // A conditional create is the entry's, and not that of what the entry contains.
      const { entry } = located.home;
      const criteria = entry.resource === located.resource ? entry.criteria : null;
      return patientOf(located.resource, criteria, defaultAuthority);
    }
    case 'server': {
      if (located.type !== 'Patient') return { why: 'must lead to a Patient' };
      return known(register.patient(located.id), sent);
    }
    case 'search': {
      if (located.type !== 'Patient') return { why: 'must lead to a Patient' };
      const [only, ...more] = register.patientsWith(located.criteria);
      if (more.length > 0) return { why: 'is met by several registered patients', several: true };
      return only === undefined ? { why: 'is met by no registered patient' } : known(only, sent);
    }
  }
}

function known(found: KnownPatient | null, sent: SentReference): PatientFound {
  const identifiers = found?.identifiers ?? [];
  const [first] = identifiers;
  if (first === undefined) {
    return { why: 'leads to no patient of this server; an identifier alone names one, too' };
  }
  const { system, value } = sent.identifier ?? {};
  if (system === undefined || value === undefined) return { patient: { identifier: first } };
  const agrees = identifiers.some((one) => one.system === system && one.value === value);
  const identifier = agrees ? { system, value } : first;
  return { patient: { identifier, ...(!agrees && { doubts: ['identifiers-conflict'] }) } };
}

/**
 * Who a Patient that was sent along is: by identifier, with birth date and family name as the second one.
 * @param criteria of its conditional create: the identifiers that it was looked for by
 */
export function patientOf(
  resource: Json,
  criteria: readonly Identifier[] | null,
  defaultAuthority: string | null,
): PatientFound {
  if (resource.resourceType !== 'Patient') return { why: 'must lead to a Patient' };
  const { identifiers, authorityMissing } = identifiersOf(resource, defaultAuthority);
  const named = identifiers.filter((one) => isAmong(one, criteria ?? []));
  const [first, ...others] = [...named, ...identifiers.filter((one) => !named.includes(one))];
  if (first === undefined) return { why: `leads to a Patient that lacks ${IDENTIFIER_RULE}` };
  const doubts: IdentityDoubt[] = [
    ...(authorityMissing ? (['authority-missing'] as const) : []),
    // It was looked for by another number than its own.
    ...(criteria !== null && named.length === 0 ? (['identifiers-conflict'] as const) : []),
  ];
  const birthDate = wholeDay(resource.birthDate);
  const familyName = familyNameOf(resource);
  return {
    patient: {
      identifier: first,
      ...(others.length > 0 && { others }),
      ...(birthDate !== undefined && { birthDate }),
      ...(familyName !== undefined && { familyName }),
      ...(doubts.length > 0 && { doubts }),
    },
  };
}

function isAmong(one: Identifier, list: readonly Identifier[]): boolean {
  return list.some(({ system, value }) => system === one.system && value === one.value);
}

/** Those with a value; one without a system belongs to the authority that the source is registered with. */
function identifiersOf(
  resource: Json,
  defaultAuthority: string | null,
): { readonly identifiers: readonly Identifier[]; readonly authorityMissing: boolean } {
  const sent = asList(resource.identifier).map(asObject);
  const whole = sent.flatMap(
    ({ system = defaultAuthority, value }) => readIdentifier({ system, value }) ?? [],
  );
  if (whole.length > 0) return { identifiers: whole, authorityMissing: false };
  const bare = sent.flatMap(({ system, value }) =>
    system === undefined && isIdentifierValue(value) ? [value] : [],
  );
  return {
    identifiers: bare.map((value) => ({ system: UNIDENTIFIED_SYSTEM, value: `number ${value}` })),
    authorityMissing: bare.length > 0,
  };
}

/** A year alone is too little to tell one patient from another. */
function wholeDay(value: unknown): string | undefined {
  const text = asText(value) ?? '';
  const isDay = /^[12]\d{3}-\d{2}-\d{2}$/.test(text) && !Number.isNaN(Date.parse(text));
  return isDay ? text : undefined;
}

/** Of an official or usual name, before any other. */
function familyNameOf(resource: Json): string | undefined {
  const names = asList(resource.name).map(asObject);
  const first = names.find(({ use }) => use === 'official' || use === 'usual' || use === undefined);
  const family = (first ?? names[0])?.family;
  return isIdentifierValue(family) ? family : undefined;
}
