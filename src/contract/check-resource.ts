/** Whether a JSON value has the form of a FHIR R4 resource, element by element. */
import { primitiveCheck } from './r4-primitives.js';
import { CHOICES, NOT_TAKEN, REQUIRED, elementType } from './r4-types.js';
import type { CheckedType } from './r4-types.js';

/** Extensions in extensions; published ones go one level deep. */
const MAX_DEPTH = 12;
/** Of one answer: whoever has so many to mend will ask again. */
export const MAX_ISSUES = 20;

type Json = Readonly<Record<string, unknown>>;
type Report = (code: ElementIssue['code'], text: string, path: string) => void;

/** One fault of form; `code` is from the code system `issue-type` of FHIR R4. */
export interface ElementIssue {
  readonly severity: 'error';
  readonly code: 'structure' | 'value' | 'required' | 'invariant';
  readonly text: string;
  /** Simple FHIRPath of the element at fault. */
  readonly expression: string;
}

function isObject(value: unknown): value is Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/**
 * What keeps a JSON value from being a resource of this type, element by element. No text repeats a
 * value; element names are repeated where they can be printed.
 */
export function checkResource(type: CheckedType, resource: unknown): ElementIssue[] {
  const issues: ElementIssue[] = [];
  const report: Report = (code, text, path) => {
    // The underscore is of JSON alone: FHIRPath knows the element without it.
    const expression = path.replaceAll('._', '.');
    if (issues.length < MAX_ISSUES) issues.push({ severity: 'error', code, text, expression });
  };
  if (!isObject(resource) || resource.resourceType !== type) {
    report('structure', `The resource must be of the type ${type}.`, `${type}.resourceType`);
  } else checkComplex(type, resource, type, 0, report);
  return issues;
}

function checkComplex(
  type: string,
  value: Json,
  path: string,
  depth: number,
  report: Report,
): void {
  if (depth > MAX_DEPTH) {
    report('structure', 'The resource is nested too deeply.', path);
    return;
  }
  const names = Object.keys(value);
  if (names.length === 0) report('structure', `${path} is empty.`, path);
  for (const name of names) checkElement(type, name, value[name], path, depth, report);
  for (const name of REQUIRED[type] ?? []) {
    if (value[name] === undefined) report('required', `${path}.${name} is missing.`, path);
  }
  for (const choice of CHOICES[type] ?? []) {
    const given = names.filter((name) => new RegExp(`^${choice}[A-Z]`).test(name));
    if (given.length > 1) report('structure', `${path}.${choice}[x] stands twice.`, path);
  }
  if (type.endsWith('Extension')) checkExtension(names, path, report);
}

/** Invariant ext-1: a value or extensions, never both. */
function checkExtension(names: readonly string[], path: string, report: Report): void {
  const hasValue = names.some((name) => name.startsWith('value'));
  if (hasValue === names.includes('extension')) {
    report('invariant', `${path} must have a value or extensions, and not both.`, path);
  }
}

function checkElement(
  type: string,
  name: string,
  value: unknown,
  path: string,
  depth: number,
  report: Report,
): void {
  const found = elementType(type, name);
  const shown = /^_?[A-Za-z]{1,64}$/.test(name) ? `${path}.${name}` : path;
  if (found === undefined) {
    const why = Object.hasOwn(NOT_TAKEN, name) ? NOT_TAKEN[name] : 'there is no such element';
    report('structure', `${shown}: ${why ?? ''}.`, shown);
  } else if (!found.endsWith('*')) checkValue(found, value, shown, depth, report);
  else if (!Array.isArray(value) || value.length === 0) {
    report('structure', `${shown} must be a list that is not empty.`, shown);
  } else {
    value.forEach((item, i) => {
      checkValue(found.slice(0, -1), item, `${shown}[${i}]`, depth, report);
    });
  }
}

function checkValue(
  type: string,
  value: unknown,
  path: string,
  depth: number,
  report: Report,
): void {
  const isPrimitive = primitiveCheck(type);
  if (isPrimitive !== undefined) {
    if (!isPrimitive(value)) report('value', `${path} is not a valid ${type}.`, path);
  } else if (!isObject(value)) report('structure', `${path} must be an object.`, path);
  else checkComplex(type, value, path, depth + 1, report);
}
