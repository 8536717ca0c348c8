/** Takes what was sent in through intake and pipeline, and tells what became of each entry. */
import type { SentEntry, Surroundings } from '../../compose/fhir-intake.js';
import type { DirectorySource } from '../../store/source-directory.js';
import { NO_MAPPING } from '../../vitals/source-profile.js';
import type { SourceProfile } from '../../vitals/source-profile.js';
import type { HttpError } from '../http/http-error.js';
import type { Caller } from '../http/route.js';
import { answerAmendments } from './answer-amendments.js';
import { answerEntries } from './answer-entries.js';
import { askRegister } from './ask-register.js';
import type { DeliveryServices } from './delivery-services.js';
import { formErrors } from './entry-errors.js';
import { readQuery } from './read-criteria.js';
import type { FhirSite } from './site.js';
import type { Delivered, EntryResult, Submission } from './submission.js';
import { takeDelivery } from './take-delivery.js';
import type { Taken } from './take-delivery.js';

/**
 * Takes a delivery whole; of a batch, what can be taken of it.
 * @throws HttpError when something is refused that is no batch's: then nothing of it was taken
 */
export async function deliver(
  site: FhirSite,
  services: DeliveryServices,
  submission: Submission,
): Promise<Delivered> {
  const source = await services.sourceOf(submission.caller.sourceKey);
  const around = surroundingsOf(site, submission, source);
  const refused = new Map<SentEntry, HttpError>(formErrors(submission.entries));
  const sound = submission.entries.filter((entry) => !refused.has(entry));
  const register = await askRegister(services.pool, services.intake.questionsOf(sound, around));
  let taken: Taken | null = null;
  while (taken === null) {
    taken = await takeDelivery({ services, submission, source, around, register }, refused);
  }
  const answers = await answerEntries(site, services, submission, taken);
  const amended = await answerAmendments(site, services, submission, taken);
  return {
    kept: taken.committed.envelope !== null,
    results: submission.entries.map((entry): EntryResult => {
      const error = refused.get(entry);
      if (error !== undefined) return { kind: 'refused', error };
      const answer = amended.get(entry) ?? answers.get(entry);
      if (answer === undefined) throw new Error('an entry was taken and has no answer');
      return { kind: 'answered', answer };
    }),
  };
}

function surroundingsOf(
  { baseUrl }: FhirSite,
  { kind, digits, caller }: Submission,
  source: DirectorySource | null,
): Surroundings {
  return {
    linked: kind === 'transaction',
    baseUrl,
    profile: source?.profile ?? profileOf(caller),
    person: caller.person,
    digits,
    readCriteria: readQuery,
  };
}

function profileOf({ attended }: Caller): SourceProfile {
  return { attended, zone: null, defaultAuthority: null, authorities: {}, mapping: NO_MAPPING };
}
