/** Names that HL7's Subscriptions R5 Backport guide (1.1.0) gives, as they stand in its artifacts for R4. */
const GUIDE = 'http://hl7.org/fhir/uv/subscriptions-backport/';
const structure = (id: string): string => `${GUIDE}StructureDefinition/${id}`;
const operation = (id: string): string => `${GUIDE}OperationDefinition/${id}`;

export const SERVER_STATEMENT = `${GUIDE}CapabilityStatement/backport-subscription-server-r4`;
export const TOPIC_EXTENSION = structure('capabilitystatement-subscriptiontopic-canonical');
export const SUBSCRIPTION_PROFILE = structure('backport-subscription');
export const NOTIFICATION_PROFILE = structure('backport-subscription-notification-r4');
export const STATUS_PROFILE = structure('backport-subscription-status-r4');

export const FILTER = structure('backport-filter-criteria');
export const CONTENT = structure('backport-payload-content');
export const CHANNEL_TYPE = structure('backport-channel-type');
export const HEARTBEAT = structure('backport-heartbeat-period');
export const TIMEOUT = structure('backport-timeout');
export const MAX_COUNT = structure('backport-max-count');

export const STATUS_OPERATION = operation('backport-subscription-status');
export const EVENTS_OPERATION = operation('backport-subscription-events');
