/** A Subscription as a client sends it: its form, then whether it can be done. Everything at fault is named. */
import type { Subscription } from 'fhir/r4.js';
import { MAX_ISSUES, checkResource } from '../../../contract/check-resource.js';
import type { SubscriptionRequest } from '../../../store/subscriptions.js';
import { HttpError } from '../../http/http-error.js';
import type { OutcomeIssue } from '../render-outcome.js';
import { readFilterCriteria } from './filters.js';
import { FILTER } from './guide.js';
import { readHeaders } from './headers.js';
import { readChannel, refuseOthers } from './read-channel.js';
import type { Report } from './read-channel.js';
import type { SubscriptionContext } from './subscription-services.js';
import { TOPICS, topicOf, topicUrl } from './topics.js';

const MAX_FILTERS = 10;
const MAX_FILTER = 2_000;
const MAX_REASON = 1_000;
const MAX_CONTACTS = 10;

/** What was sent, read. */
export interface SentSubscription {
  readonly request: SubscriptionRequest;
  /** Lines `Name: value`. */
  readonly headers: readonly string[];
  readonly status: NonNullable<Subscription['status']>;
}

function failWith(status: number, issues: readonly OutcomeIssue[]): void {
  const [first, ...rest] = issues.slice(0, MAX_ISSUES);
  if (first === undefined) return;
  const detail = 'The Subscription cannot be taken.';
  throw new HttpError({ status, detail, issues: [first, ...rest] });
}

function readTopic(sent: Subscription, { baseUrl }: SubscriptionContext, report: Report): string {
  const topic = topicOf(baseUrl, sent.criteria);
  if (topic === undefined) {
    const known = TOPICS.map(({ name }) => topicUrl(baseUrl, name)).join(', ');
    const text = `criteria must be the canonical of a topic that is offered here: ${known}.`;
    report('not-supported', text, 'Subscription.criteria');
  }
  return topic?.name ?? '';
}

/** The words of a fault that a search would be answered with. */
function wordsOf(error: unknown): { code: OutcomeIssue['code']; text: string } {
  if (!(error instanceof HttpError)) throw error;
  return { code: error.issues?.[0].code ?? 'value', text: error.message };
}

function readFilters(sent: Subscription, context: SubscriptionContext, report: Report): string[] {
  const at = 'Subscription.criteria';
  const extensions = sent._criteria?.extension ?? [];
  refuseOthers(extensions, [FILTER], at, report);
  const filters = extensions.filter(({ url }) => url === FILTER);
  if (filters.length > MAX_FILTERS) report('too-costly', `At most ${MAX_FILTERS} filters.`, at);
  return filters.slice(0, MAX_FILTERS).map(({ valueString = '' }, i) => {
    const place = `${at}.extension[${i}]`;
    try {
      if (valueString === '' || valueString.length > MAX_FILTER) {
        const text = `A filter is a search such as Observation?code=8867-4, at most ${MAX_FILTER} characters long.`;
        report('value', text, place);
      } else readFilterCriteria(valueString, context);
    } catch (error) {
      const { code, text } = wordsOf(error);
      report(code, `The filter cannot be used: ${text}`, place);
    }
    return valueString;
  });
}

function readEnd(
  sent: Subscription,
  { nowMs }: SubscriptionContext,
  report: Report,
): number | null {
  if (sent.end === undefined) return null;
  const endsMs = Date.parse(sent.end);
  if (Number.isNaN(endsMs)) report('value', 'end is no instant.', 'Subscription.end');
  else if (endsMs <= nowMs) report('value', 'end has passed already.', 'Subscription.end');
  return endsMs;
}

/**
 * @param kept header lines of the Subscription as it is; none when it is new
 * @throws HttpError 400 when it is no Subscription of R4, 422 when it asks for what is not offered
 */
export function readSubscription(
  body: unknown,
  kept: readonly string[],
  context: SubscriptionContext,
): SentSubscription {
  failWith(400, checkResource('Subscription', body));
  const sent = body as Subscription;
  const issues: OutcomeIssue[] = [];
  const report: Report = (code, text, expression) => {
    issues.push({ severity: 'error', code, text, expression });
  };
  refuseOthers(sent.extension, [], 'Subscription', report);
  if (sent.reason.length > MAX_REASON) {
    report('too-long', `reason has more than ${MAX_REASON} characters.`, 'Subscription.reason');
  }
  if ((sent.contact ?? []).length > MAX_CONTACTS) {
    report('too-long', `At most ${MAX_CONTACTS} contacts.`, 'Subscription.contact');
  }
  const request = {
    topic: readTopic(sent, context, report),
    filters: readFilters(sent, context, report),
    ...readChannel(sent, context, report),
    endsMs: readEnd(sent, context, report),
    reason: sent.reason,
    contact: sent.contact ?? null,
  };
  const headers = readHeaders(sent.channel.header ?? [], kept);
  if ('words' in headers) {
    const at = `Subscription.channel.header[${headers.index}]`;
    report('value', `header[${headers.index}] ${headers.words}.`, at);
  }
  failWith(422, issues);
  return { request, headers: 'words' in headers ? [] : headers, status: sent.status };
}
