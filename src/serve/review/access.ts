/** What every road of the review shares: ids in paths, the bound of a search. */
import type { Request } from 'express';
import { SearchTooBroad } from '../../errors.js';
import { HttpError } from '../http/http-error.js';
import { isUuid, pathParameter } from '../http/route.js';

/** The id in the path; what is no UUID is the id of nothing. */
export function idOf(req: Request, notFound: () => HttpError): string {
  const id = pathParameter(req, 'id');
  if (!isUuid(id)) throw notFound();
  return id.toLowerCase();
}

export function noSuchReading(): HttpError {
  return new HttpError({ status: 404, detail: 'There is no such reading.' });
}

export function noSuchSubmission(): HttpError {
  return new HttpError({ status: 404, detail: 'There is no such submission.' });
}

/** @throws HttpError 422 when the search looks at more than the database gets through in time. */
export async function withinReach<T>(search: Promise<T>): Promise<T> {
  try {
    return await search;
  } catch (error) {
    if (!(error instanceof SearchTooBroad)) throw error;
    throw new HttpError({
      status: 422,
      detail:
        'This search looks at too much to be answered in time. Narrow it: by time, by state or by patient.',
    });
  }
}
