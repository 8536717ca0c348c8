import type { ErrorRequestHandler, Request, Response } from 'express';
import { Overloaded, SearchTooBroad } from '../../errors.js';
import { problemBody } from '../../problem.js';
import { isDatabaseAway } from '../../store/database-away.js';
import { renderOutcome } from '../fhir/render-outcome.js';
import type { OutcomeIssue } from '../fhir/render-outcome.js';
import { sendErrorPage } from '../pages/error-page.js';
import { HttpError } from './http-error.js';
import { localsOf } from './locals.js';
import { tooLarge } from './read-body.js';
import type { ErrorStyle } from './route.js';
import { wantsPage } from './wants-page.js';

/** What can go wrong on the way to an answer. */
type Failure =
  | { readonly kind: 'said'; readonly error: HttpError }
  | { readonly kind: 'database-away' }
  | { readonly kind: 'overloaded' }
  | { readonly kind: 'search-too-broad' }
  | { readonly kind: 'body-too-large'; readonly limitBytes: number }
  | { readonly kind: 'body-encoded' }
  | { readonly kind: 'body-broken' }
  | { readonly kind: 'unknown' };

/** Seconds after which a client may try again. */
const RETRY_AFTER_SECONDS = { databaseAway: 5, overloaded: 1 };

/** FHIR R4 issue types (code system `issue-type`) for errors that say no more than their status. */
const ISSUE_CODES: Readonly<Record<number, OutcomeIssue['code']>> = {
  400: 'invalid',
  401: 'login',
  403: 'forbidden',
  // No such path: a resource type or operation that is not offered. What is absent says so itself.
  404: 'not-supported',
  405: 'not-supported',
  406: 'not-supported',
  409: 'conflict',
  410: 'deleted',
  412: 'conflict',
  413: 'too-long',
  415: 'not-supported',
  422: 'business-rule',
  429: 'throttled',
  500: 'exception',
  503: 'transient',
};

/** The kinds of the body reader are those of the package body-parser. */
function classify(error: unknown): Failure {
  if (error instanceof HttpError) return { kind: 'said', error };
  if (error instanceof Overloaded) return { kind: 'overloaded' };
  if (error instanceof SearchTooBroad) return { kind: 'search-too-broad' };
  if (isDatabaseAway(error)) return { kind: 'database-away' };
  const { type, limit } = (error ?? {}) as { type?: unknown; limit?: unknown };
  if (type === 'entity.too.large') {
    return { kind: 'body-too-large', limitBytes: Number(limit) };
  }
  if (type === 'encoding.unsupported') return { kind: 'body-encoded' };
  if (type === 'request.size.invalid' || type === 'request.aborted') return { kind: 'body-broken' };
  return { kind: 'unknown' };
}

function unavailable(detail: string, retryAfterSeconds: number): HttpError {
  const headers = { 'Retry-After': String(retryAfterSeconds) };
  return new HttpError({ status: 503, detail, headers });
}

function tooBroad(): HttpError {
  const detail = 'The search takes too long; narrow it.';
  const issue = { severity: 'error', code: 'too-costly', text: detail } as const;
  return new HttpError({ status: 400, detail, issues: [issue] });
}

/** Every failure as the answer that a client gets: the one place where inner kinds meet HTTP. */
export function toHttpError(error: unknown): HttpError {
  const failure = classify(error);
  switch (failure.kind) {
    case 'said':
      return failure.error;
    case 'database-away':
      return unavailable(
        'The database is away; what this request asked for is not assured. Send it again.',
        RETRY_AFTER_SECONDS.databaseAway,
      );
    case 'overloaded':
      return unavailable(
        'More is waiting than can be queued; nothing of this request was kept. Send it again.',
        RETRY_AFTER_SECONDS.overloaded,
      );
    case 'search-too-broad':
      return tooBroad();
    case 'body-too-large':
      return tooLarge(failure.limitBytes);
    case 'body-encoded':
      return new HttpError({ status: 415, detail: 'The body must not be compressed.' });
    case 'body-broken':
      return new HttpError({ status: 400, detail: 'The body did not arrive whole.' });
    case 'unknown':
      return new HttpError({
        status: 500,
        detail: 'The gateway failed at this request. Its log has the cause under the request id.',
      });
  }
}

function sendFhir(res: Response, error: HttpError): void {
  const code = ISSUE_CODES[error.status] ?? 'processing';
  const issues = error.issues ?? [{ severity: 'error', code, text: error.message }];
  res.setHeader('Content-Type', 'application/fhir+json; charset=utf-8');
  res.end(JSON.stringify(renderOutcome(issues)));
}

function sendProblem(res: Response, { status, message, errors }: HttpError): void {
  res.setHeader('Content-Type', 'application/problem+json');
  res.end(problemBody({ status, detail: message, ...(errors === undefined ? {} : { errors }) }));
}

/** Answers every error in the style of the area that the path belongs to. Goes last. */
export function renderError(styleOf: (req: Request) => ErrorStyle): ErrorRequestHandler {
  // Express knows an error handler by its four parameters.
  // eslint-disable-next-line @typescript-eslint/no-unused-vars -- the fourth must be there
  return (error: unknown, req, res, _next) => {
    // Half an answer is out, or nobody is there to read one.
    if (res.headersSent || res.destroyed) {
      res.destroy();
      return;
    }
    const said = toHttpError(error);
    // The log line of the request tells the cause, which the client is not told.
    if (said.status >= 500) localsOf(res).failure = error;
    res.status(said.status);
    for (const [name, value] of Object.entries(said.headers)) res.setHeader(name, value);
    res.removeHeader('ETag');
    const style = styleOf(req);
    // Led elsewhere: there is nothing to read here.
    if (said.status < 400) res.end();
    else if (style === 'fhir') sendFhir(res, said);
    else if (style === 'page' && wantsPage(req)) sendErrorPage(res, said);
    else sendProblem(res, said);
  };
}
