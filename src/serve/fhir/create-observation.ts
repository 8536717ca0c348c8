/** `POST Observation` (R4 §3.1.0.8), also as a conditional create (§3.1.0.8.1). */
import type { Request } from 'express';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import type { Caller } from '../http/route.js';
import { deliver } from './deliver.js';
import type { DeliveryServices } from './delivery-services.js';
import type { EntryAnswer } from './entry-answers.js';
import type { FhirAnswer } from './fhir-handler.js';
import { keep, keepingRefusals } from './keep-refusal.js';
import { checkContentVersion, returnOf } from './negotiate.js';
import type { ReturnPreference } from './negotiate.js';
import { readBody } from './read-fhir-body.js';
import { readCondition } from './read-bundle.js';
import { refusal } from './refuse.js';
import { renderOutcome } from './render-outcome.js';
import type { OutcomeIssue } from './render-outcome.js';
import type { FhirSite } from './site.js';

const DONE: OutcomeIssue = {
  severity: 'information',
  code: 'informational',
  text: 'It is kept and published.',
};

export function createObservation(
  site: FhirSite,
  services: DeliveryServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  checkContentVersion(req.headers);
  return keepingRefusals(services.pipeline, req, caller, async () => {
    const { value, digits } = readBody(services.intake, req);
    if (value.resourceType !== 'Observation') {
      const text = 'The body must be an Observation.';
      throw refusal(400, 'structure', text, 'Observation.resourceType');
    }
    const condition = req.headers['if-none-exist'];
    const { results, kept } = await deliver(site, services, {
      caller,
      bytes: bodyOf(req),
      contentType: mediaTypeOf(req),
      kind: 'single',
      digits,
      entries: [
        {
          index: 0,
          at: 'the Observation',
          path: 'Observation',
          fullUrl: null,
          resource: value,
          criteria: condition === undefined ? null : readCondition(condition, 'http.If-None-Exist'),
        },
      ],
    });
    const [result] = results;
    if (result === undefined) throw new Error('an Observation was sent and has no answer');
    if (result.kind === 'refused') throw result.error;
    const answer = toAnswer(result.answer, returnOf(req.headers) ?? 'representation');
    if (!kept) await keep(services.pipeline, req, caller, answer.status, answer.text ?? '');
    return answer;
  });
}

function toAnswer(
  { status, location, version, text, issues }: EntryAnswer,
  preference: ReturnPreference,
): FhirAnswer {
  const [first = DONE, ...more] = issues;
  const outcome = JSON.stringify(renderOutcome([first, ...more]));
  const taken = text !== undefined;
  return {
    status,
    text:
      !taken || preference === 'OperationOutcome'
        ? outcome
        : preference === 'minimal'
          ? null
          : text,
    ...(version !== undefined && {
      version: { etag: version.etag, sinceMs: version.stampMs, replacedSinceMs: null },
    }),
    ...(location !== undefined && { headers: { Location: location } }),
  };
}
