/** Answers that many routes describe in the same way. */
import type { Response } from 'express';
import type { ResponseSpec, SchemaRef } from './route.js';

/** An answer with a JSON body. */
export function jsonResponse(
  description: string,
  schema: SchemaRef,
  example?: unknown,
): ResponseSpec {
  const content = example === undefined ? { schema } : { schema, example };
  return { description, content: { 'application/json': content } };
}

/** A refusal as an RFC 9457 problem document. */
export function problemResponse(description: string): ResponseSpec {
  return { description, content: { 'application/problem+json': { schema: 'problem' } } };
}

/** Sends a value as JSON; express' own way would hash each body for a tag that nobody asks for. */
export function sendJson(res: Response, status: number, value: unknown): void {
  res.status(status).setHeader('Content-Type', 'application/json');
  res.end(JSON.stringify(value));
}
