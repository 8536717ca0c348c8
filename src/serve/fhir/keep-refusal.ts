/** What an authenticated sender submits is kept, also when it is refused. */
import type { Request } from 'express';
import { HttpError } from '../http/http-error.js';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import type { Caller } from '../http/route.js';
import type { DeliveryPipeline } from './delivery-services.js';
import type { FhirAnswer } from './fhir-handler.js';
import { outcomeOf } from './render-outcome.js';

/** Answers of a body that was read and refused; others say nothing about what is in it. */
const KEPT: readonly number[] = [400, 409, 412, 422];

/** Runs the work; when it refuses the body, keeps the body with that answer before the error goes on. */
export async function keepingRefusals(
  pipeline: DeliveryPipeline,
  req: Request,
  caller: Caller,
  work: () => Promise<FhirAnswer>,
): Promise<FhirAnswer> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof HttpError && KEPT.includes(error.status)) {
      await keep(pipeline, req, caller, error.status, JSON.stringify(outcomeOf(error)));
    }
    throw error;
  }
}

/** Keeps a body that brought nothing that is kept by itself. */
export async function keep(
  pipeline: DeliveryPipeline,
  req: Request,
  caller: Caller,
  status: number,
  answer: string,
): Promise<void> {
  const arrival = { bytes: bodyOf(req), contentType: mediaTypeOf(req) };
  const action = status < 300 ? 'fhir-received' : 'fhir-refused';
  await pipeline.keepRefused(caller, arrival, { status, answer: Buffer.from(answer), action });
}
