/** The elements of a FHIR R4 Subscription; what becomes of each is said where it is read. */
export const SUBSCRIPTION_TYPES: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  Subscription: {
    resourceType: 'code',
    id: 'id',
    meta: 'Meta',
    language: 'code',
    text: 'Narrative',
    status: 'subscriptionStatus',
    contact: 'ContactPoint*',
    end: 'instant',
    reason: 'string',
    criteria: 'string',
    error: 'string',
    channel: 'SubscriptionChannel',
  },
  SubscriptionChannel: {
    type: 'subscriptionChannelType',
    endpoint: 'uri',
    payload: 'code',
    header: 'string*',
  },
};
