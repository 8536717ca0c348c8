/** The export that a path names, if it is the caller's and the caller may still read what it holds. */
import type { Request } from 'express';
import { findExport } from '../../store/exports.js';
import type { ExportRecord } from '../../store/exports.js';
import { refusal } from '../fhir/refuse.js';
import { isId } from '../fhir/site.js';
import { hasScope } from '../auth/scopes.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import { typesOf } from './export-types.js';
import type { Exportable } from './export-types.js';
import type { ExportServices } from './export-services.js';

/** Of whoever asks for another's export, or for none: it must not be told apart. */
export function noExport(): Error {
  return refusal(404, 'not-found', 'There is no such export here, or it has ended.');
}

/** The types that the caller may not both read and search now. */
export function closedTypes(
  types: readonly Exportable['type'][],
  { scopes }: Caller,
): Exportable['type'][] {
  return types.filter((type) => !hasScope(scopes, `system/${type}.rs`));
}

/** @throws HttpError 403 that names what is missing. */
export function demandScopes(types: readonly Exportable['type'][], caller: Caller): void {
  const closed = closedTypes(types, caller);
  if (closed.length === 0) return;
  const scopes = closed.map((type) => `system/${type}.rs`).join(' and ');
  throw refusal(403, 'forbidden', `This needs the scope ${scopes}.`);
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
  demandScopes(typesOf(found.selection.parts), caller);
  return found;
}
