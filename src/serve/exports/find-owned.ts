/** The export that a path names, if it is the caller's and the caller may still read what it holds. */
import type { Request } from 'express';
import { findExport } from '../../store/exports.js';
import type { ExportRecord } from '../../store/exports.js';
import { refusal } from '../fhir/refuse.js';
import { isId } from '../fhir/site.js';
import { coversType, parseFhirScope } from '../auth/fhir-scopes.js';
import { hasNarrowedScope, hasScope, isAllowed } from '../auth/scopes.js';
import type { Scope } from '../auth/scopes.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import type { Exportable } from './export-types.js';
import type { ExportServices } from './export-services.js';

/** Of whoever asks for another's export, or for none: it must not be told apart. */
export function noExport(): Error {
  return refusal(404, 'not-found', 'There is no such export here, or it has ended.');
}

/** The scopes by which these may read a type in bulk, narrowed ones too; null: they may not. */
export function scopesToExport(
  type: Exportable['type'],
  scopes: readonly string[],
): readonly string[] | null {
  const whole: Scope = `system/${type}.rs`;
  if (hasScope(scopes, whole)) return [whole];
  return hasNarrowedScope(scopes, whole)
    ? scopes.filter((scope) => coversType(parseFhirScope(scope)?.type ?? '', type))
    : null;
}

/** A 403 that names what is missing. */
export function scopeMissing(missing: readonly string[]): Error {
  return refusal(403, 'forbidden', `This needs the scope ${missing.join(' and ')}.`);
}

/** @throws HttpError 404 when the caller has no such export, 403 when a scope of it has ended. */
export async function findOwnExport(
  { readers, clock }: ExportServices,
  req: Request,
  caller: Caller,
): Promise<ExportRecord> {
  const id = pathParameter(req, 'id');
  const found = isId(id) ? await findExport(readers, id, caller.clientKey, clock()) : null;
  if (found === null) throw noExport();
  const ended = found.selection.scopes.filter((scope) => !isAllowed(caller.scopes, scope));
  if (ended.length > 0) throw scopeMissing(ended);
  return found;
}
