import { editionName } from '../../vitals/answers.js';
import type { MessageFacts } from '../../store/review-messages.js';
import type { SubmissionFacts } from '../../store/review-submissions.js';
import { isoTime } from './render-reading.js';

/** The facts of a submission, without its bytes. */
export function renderSubmission(facts: SubmissionFacts): Record<string, unknown> {
  const { submissionId, kind, source, client, person, sentBy } = facts;
  const { contentType, byteLength, status, setId } = facts;
  return {
    submission: submissionId,
    ...{ kind, source, client, person, sentBy, contentType, byteLength, status, setId },
    receivedAt: isoTime(facts.receivedMs),
    sha256: facts.sha256.toString('hex'),
    edition: editionName(facts.edition),
  };
}

/** What a message was and brought beside its readings. */
export function renderMessage({ message, parts, unread }: MessageFacts): Record<string, unknown> {
  return {
    message: message && {
      controlId: message.controlId,
      messageType: message.messageType,
      sentAt: message.sentAtMs === null ? null : isoTime(message.sentAtMs),
      acknowledged: message.acknowledged,
    },
    parts,
    unread: unread.map(({ readAtMs, ...row }) => ({
      ...row,
      readAt: readAtMs === null ? null : isoTime(readAtMs),
    })),
  };
}
