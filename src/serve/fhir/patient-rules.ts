/** What FHIR R4 (4.0.1) demands of a Patient beyond the names and types of its elements. */
import type { Extension, Identifier, Patient, PatientContact, Period, Reference } from 'fhir/r4.js';
import { REFERENCE_TARGETS, elementType } from '../../contract/r4-types.js';
import type { OutcomeIssue } from './render-outcome.js';
import { RESOURCE_TYPES } from './resource-types.js';

interface Place {
  /** The element as the type that declares it names it, e.g. `Identifier.assigner`. */
  readonly element: string;
  /** Simple FHIRPath of the node. */
  readonly path: string;
}

type Report = (code: OutcomeIssue['code'], text: string, path: string) => void;

interface Ruled {
  readonly Extension: Extension;
  readonly Identifier: Identifier;
  readonly PatientContact: PatientContact;
  readonly Period: Period;
  readonly Reference: Reference;
}

type Rules = { readonly [T in keyof Ruled]: (value: Ruled[T], at: Place, report: Report) => void };

const RULES: Rules = {
  Extension: checkUrl,
  Identifier: checkSystem,
  PatientContact: checkContact,
  Period: checkPeriod,
  Reference: checkReference,
};

/** The rules that a Patient breaks whose elements `checkResource` has found good. No text repeats a value. */
export function brokenRules(patient: Patient): OutcomeIssue[] {
  const issues: OutcomeIssue[] = [];
  visit('Patient', patient, { element: 'Patient', path: 'Patient' }, (code, text, expression) => {
    issues.push({ severity: 'error', code, text, expression });
  });
  return issues;
}

function visit(type: string, value: unknown, at: Place, report: Report): void {
  if (typeof value !== 'object' || value === null) return;
  if (Object.hasOwn(RULES, type)) RULES[type as keyof Rules](value as never, at, report);
  for (const [name, child] of Object.entries(value) as [string, unknown][]) {
    const childType = elementType(type, name)?.replace('*', '') ?? '';
    const element = `${type}.${name}`;
    // JSON alone sets id and extensions of a primitive element apart by an underscore.
    const path = `${at.path}.${name.replace(/^_/, '')}`;
    if (!Array.isArray(child)) visit(childType, child, { element, path }, report);
    else {
      child.forEach((item, i) => {
        visit(childType, item, { element, path: `${path}[${i}]` }, report);
      });
    }
  }
}

/** RFC 3986 §4.3, by its characters: the same as a set may name an identifier's system by. */
const ABSOLUTE_URI = /^[A-Za-z][A-Za-z0-9+.-]*:[!#-;=?-[\]_a-z~]+$/;

/** R4, Extensibility: only the parts of a complex extension may have names that mean something just there. */
function checkUrl({ url }: Extension, { element, path }: Place, report: Report): void {
  if (element === 'Extension.extension' || ABSOLUTE_URI.test(url)) return;
  report('value', `${path}.url must be an absolute URI.`, `${path}.url`);
}

function checkSystem({ system }: Identifier, { path }: Place, report: Report): void {
  if (system === undefined || ABSOLUTE_URI.test(system)) return;
  report('value', `${path}.system must be an absolute URI.`, `${path}.system`);
}

function checkContact(contact: PatientContact, { path }: Place, report: Report): void {
  const { name, telecom = [], address, organization } = contact;
  if ((name ?? address ?? organization) === undefined && telecom.length === 0) {
    const text = `${path} must have a name, a telecom, an address or an organization (pat-1).`;
    report('invariant', text, path);
  }
  telecom.forEach(({ system, _system, value, _value }, i) => {
    if ((value ?? _value) === undefined || (system ?? _system) !== undefined) return;
    const one = `${path}.telecom[${i}]`;
    report('invariant', `${one} has a value and must have a system (cpt-2).`, one);
  });
}

function checkPeriod({ start, end }: Period, { path }: Place, report: Report): void {
  if (start === undefined || end === undefined || !isAfter(start, end)) return;
  report('invariant', `${path} starts after its end (per-1).`, path);
}

/** As far as both say: a year is not after a day of that year. */
function isAfter(start: string, end: string): boolean {
  if (start.includes('T') && end.includes('T')) return Date.parse(start) > Date.parse(end);
  const [startDate = '', endDate = ''] = [start, end].map((text) => text.split('T', 1)[0]);
  const length = Math.min(startDate.length, endDate.length);
  return startDate.slice(0, length) > endDate.slice(0, length);
}

/** R4, Resource References, the RESTful form, on this server or another. */
const RESTFUL =
  /^(?:https?:\/\/[^?#]+\/)?([A-Za-z]+)\/[A-Za-z0-9.-]{1,64}(?:\/_history\/[A-Za-z0-9.-]{1,64})?$/;

/** Undefined: the reference does not tell. */
function pointedType(reference: string): string | undefined {
  const [, type = ''] = RESTFUL.exec(reference) ?? [];
  return RESOURCE_TYPES.includes(type) ? type : undefined;
}

function checkReference(value: Reference, { element, path }: Place, report: Report): void {
  const { reference, type } = value;
  const targets = REFERENCE_TARGETS[element] ?? RESOURCE_TYPES;
  const pointed = reference === undefined ? undefined : pointedType(reference);
  const refuse = (name: 'reference' | 'type', text: string): void => {
    report('value', `${path}.${name} ${text}.`, `${path}.${name}`);
  };
  if (reference?.startsWith('#') === true) {
    refuse('reference', 'points into the Patient, in which nothing is contained');
  } else if (reference !== undefined && pointed === undefined && !ABSOLUTE_URI.test(reference)) {
    refuse('reference', 'must be Type/id, Type/id/_history/version or an absolute URI');
  } else if (pointed !== undefined && !targets.includes(pointed)) {
    refuse('reference', `must point to ${targets.join(' or ')}`);
  }
  if (type === undefined) return;
  if (!targets.includes(type)) {
    const any = targets === RESOURCE_TYPES;
    refuse('type', any ? 'is no resource type of R4' : `must be ${targets.join(' or ')}`);
  } else if (pointed !== undefined && pointed !== type) {
    refuse('type', 'is another than that of the reference');
  }
}
