/** `Subscription.channel` with the extensions of the backport guide: read and checked. */
import type { Extension, Subscription, SubscriptionChannel } from 'fhir/r4.js';
import type { NotificationContent, SubscriptionRequest } from '../../../store/subscriptions.js';
import type { OutcomeIssue } from '../render-outcome.js';
import { CHANNEL_TYPE, CONTENT, HEARTBEAT, MAX_COUNT, TIMEOUT } from './guide.js';
import type { SubscriptionContext } from './subscription-services.js';

export type Report = (code: OutcomeIssue['code'], text: string, expression: string) => void;

export const MIME_TYPES = [
  'application/fhir+json',
  'application/json',
  'application/fhir+json; fhirVersion=4.0',
  'application/fhir+json;fhirVersion=4.0',
];
export const CONTENTS: readonly NotificationContent[] = ['empty', 'id-only', 'full-resource'];

/** What a subscriber may ask for, each bounded so that it can wear nobody out. */
export const BOUNDS = {
  heartbeatSeconds: { least: 10, most: 86_400 },
  timeoutSeconds: { least: 1, most: 60 },
  maxCount: { least: 1, most: 200 },
} as const;
const MAX_ENDPOINT = 1_000;
const AT = 'Subscription.channel';

type Channel = Pick<
  SubscriptionRequest,
  'endpoint' | 'mimeType' | 'content' | 'heartbeatSeconds' | 'timeoutSeconds' | 'maxCount'
>;

/** The value of an extension that may stand once, or undefined. */
function only(
  extensions: readonly Extension[] | undefined,
  url: string,
  report: Report,
): Extension | undefined {
  const [first, ...more] = (extensions ?? []).filter((one) => one.url === url);
  if (more.length > 0) report('structure', `The extension ${url} stands more than once.`, AT);
  return first;
}

/** Extensions that are not understood are refused by name: something would be passed over. */
export function refuseOthers(
  extensions: readonly Extension[] | undefined,
  known: readonly string[],
  at: string,
  report: Report,
): void {
  for (const { url } of extensions ?? []) {
    if (!known.includes(url)) {
      report('extension', `The extension ${url} is not understood in ${at}.`, at);
    }
  }
}

function readNumber(
  name: keyof typeof BOUNDS,
  value: number | undefined,
  extension: Extension | undefined,
  report: Report,
): number | null {
  if (extension === undefined) return null;
  const { least, most } = BOUNDS[name];
  if (value === undefined || value < least || value > most) {
    report('value', `${extension.url} takes a whole number from ${least} to ${most}.`, AT);
    return null;
  }
  return value;
}

function readEndpoint(
  { endpoint = '' }: SubscriptionChannel,
  { refusalOf }: SubscriptionContext,
  report: Report,
): string {
  const at = `${AT}.endpoint`;
  if (endpoint === '') report('required', 'A rest-hook needs an endpoint.', at);
  else if (endpoint.length > MAX_ENDPOINT || endpoint.includes('#')) {
    const text = `The endpoint must be an address without a fragment, at most ${MAX_ENDPOINT} characters long.`;
    report('value', text, at);
  } else {
    const refusal = refusalOf(endpoint);
    if (refusal !== null) report('value', `The endpoint is not taken. ${refusal}`, at);
  }
  return endpoint;
}

function readContent(channel: SubscriptionChannel, report: Report): NotificationContent {
  const at = `${AT}.payload`;
  const extensions = channel._payload?.extension;
  refuseOthers(extensions, [CONTENT], at, report);
  const code = only(extensions, CONTENT, report)?.valueCode;
  const content = CONTENTS.find((one) => one === code);
  if (content === undefined) {
    report('required', `payload needs the extension ${CONTENT}: ${CONTENTS.join(', ')}.`, at);
  }
  return content ?? 'empty';
}

export function readChannel(
  { channel }: Pick<Subscription, 'channel'>,
  context: SubscriptionContext,
  report: Report,
): Channel {
  const { type, payload = '', extension } = channel;
  const special = channel._type?.extension?.some(({ url }) => url === CHANNEL_TYPE);
  if (type !== 'rest-hook' || special === true) {
    report('not-supported', 'Of channels only rest-hook is offered.', `${AT}.type`);
  }
  if (!MIME_TYPES.includes(payload)) {
    report('not-supported', 'payload must be application/fhir+json.', `${AT}.payload`);
  }
  refuseOthers(extension, [HEARTBEAT, TIMEOUT, MAX_COUNT], AT, report);
  const heartbeat = only(extension, HEARTBEAT, report);
  const timeout = only(extension, TIMEOUT, report);
  const most = only(extension, MAX_COUNT, report);
  return {
    endpoint: type === 'rest-hook' ? readEndpoint(channel, context, report) : '',
    mimeType: payload,
    content: readContent(channel, report),
    heartbeatSeconds: readNumber(
      'heartbeatSeconds',
      heartbeat?.valueUnsignedInt,
      heartbeat,
      report,
    ),
    timeoutSeconds: readNumber('timeoutSeconds', timeout?.valueUnsignedInt, timeout, report),
    maxCount: readNumber('maxCount', most?.valuePositiveInt, most, report),
  };
}
