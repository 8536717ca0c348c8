/** What the roads of the registry share: ids in paths, times, refusals. */
import type { Request } from 'express';
import type { Fault } from '../../vitals/shapes.js';
import { HttpError } from '../http/http-error.js';
import { problemResponse } from '../http/responses.js';
import { isUuid, pathParameter } from '../http/route.js';
import type { ParameterSpec } from '../http/route.js';

/** A thing of the registry that paths name by its id. */
export type Thing = 'source' | 'device' | 'association' | 'mapping';

export function noSuch(thing: Thing): HttpError {
  return new HttpError({ status: 404, detail: `There is no such ${thing}.` });
}

export function noSuchResponse(thing: Thing): ReturnType<typeof problemResponse> {
  return problemResponse(`There is no such ${thing}.`);
}

export function idParameter(thing: Thing, name = 'id'): ParameterSpec {
  return {
    name,
    in: 'path',
    description: `Id of the ${thing}.`,
    schema: { type: 'string', format: 'uuid' },
  };
}

/** The id in the path; what is no UUID is the id of nothing. */
export function idIn(req: Request, thing: Thing, name = 'id'): string {
  const id = pathParameter(req, name);
  if (!isUuid(id)) throw noSuch(thing);
  return id.toLowerCase();
}

/** A refusal that points at the members of the body that are in the way. */
export function refuse(status: number, detail: string, errors?: readonly Fault[]): HttpError {
  return new HttpError({ status, detail, ...(errors === undefined ? {} : { errors }) });
}

export function isoTime(timeMs: number | null): string | null {
  return timeMs === null ? null : new Date(timeMs).toISOString();
}

/** Seconds, to the millisecond. */
export function seconds(lengthMs: number | null): number | null {
  return lengthMs === null ? null : lengthMs / 1000;
}

export const TIME = { type: 'string', format: 'date-time' };
export const TIME_OR_NULL = { type: ['string', 'null'], format: 'date-time' };
export const TEXT_OR_NULL = { type: ['string', 'null'] };
export const SECONDS_OR_NULL = { type: ['number', 'null'] };
export const PERSON_OR_NULL = {
  type: ['object', 'null'],
  description: 'Who was signed in; null: a program alone.',
  required: ['system', 'value'],
  properties: { system: { type: 'string' }, value: { type: 'string' } },
};
export const IDENTIFIER = { $ref: 'urn:vital-sign-gateway:schema:reading:1#/$defs/identifier' };
