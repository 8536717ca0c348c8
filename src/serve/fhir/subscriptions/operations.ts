/** The operations of the guide: how subscriptions stand (`$status`), and events once more (`$events`). */
import type { Request } from 'express';
import { listDeadLetters, listEvents } from '../../../store/subscription-events.js';
import { findOwnSubscriptions } from '../../../store/subscriptions.js';
import type { NotificationContent, SubscriptionRecord } from '../../../store/subscriptions.js';
import { readExportPairs } from '../../exports/read-parameters.js';
import type { Caller } from '../../http/route.js';
import { bundleText, matchEntry } from '../bundle.js';
import type { FhirAnswer } from '../fhir-handler.js';
import { pageLinks } from '../paging.js';
import type { Pair } from '../query-parameters.js';
import { printableName } from '../query-parameters.js';
import { badValue, refusal } from '../refuse.js';
import { notificationText, visibleEvents } from './notification.js';
import { CONTENTS } from './read-channel.js';
import { renderStatus } from './render-status.js';
import { statusAt } from './render-subscription.js';
import { findOwn } from './subscription-answers.js';
import type { SubscriptionServices } from './subscription-services.js';

/** Of one answer; who wants more asks again, from the number after the last. */
export const MAX_EVENTS = 500;
/** Of each subscription in `$status`: the newest. */
const SHOWN_LETTERS = 10;
/** Read by whoever chooses the form of the answer. */
const FORM = ['_format', '_pretty'];

function readOperation(
  { intake }: SubscriptionServices,
  req: Request,
  offered: readonly string[],
): readonly Pair[] {
  const pairs = readExportPairs(intake, req).filter(([name]) => !FORM.includes(name));
  for (const [name, value] of pairs) {
    const shown = printableName(name);
    if (!offered.includes(name)) {
      throw refusal(400, 'not-supported', `${shown} is not offered here.`, `http.${shown}`);
    }
    if (value === '') throw badValue(shown, 'has no value');
  }
  return pairs;
}

function valuesOf(pairs: readonly Pair[], wanted: string): string[] {
  return pairs.flatMap(([name, value]) => (name === wanted ? value.split(',') : []));
}

async function statusBundle(
  services: SubscriptionServices,
  found: readonly SubscriptionRecord[],
  path: string,
  pairs: readonly Pair[],
): Promise<FhirAnswer> {
  const { baseUrl, readers, clock } = services;
  const keys = found.map(({ subscriptionKey }) => subscriptionKey);
  const letters = await listDeadLetters(readers, keys, SHOWN_LETTERS);
  const entries = found.map((one) => {
    const status = renderStatus(
      one,
      { baseUrl, nowMs: clock() },
      {
        type: 'query-status',
        content: one.content,
        count: one.events,
        events: [],
        letters: letters.get(one.subscriptionKey) ?? [],
      },
    );
    return matchEntry(`urn:uuid:${status.id}`, status);
  });
  const links = pageLinks(`${baseUrl}/Subscription/${path}`, pairs, null, null);
  const text = bundleText({ type: 'searchset', total: entries.length, links, entries });
  return { status: 200, text };
}

/** `$status` of one subscription: its parameters are passed over there, as the guide says. */
export async function statusOfOne(
  services: SubscriptionServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  readOperation(services, req, ['id', 'status']);
  const found = await findOwn(services, req, caller);
  return statusBundle(services, [found], `${found.subscriptionId}/$status`, []);
}

/** `$status` of all of one's own, or of those named by id and status. */
export async function statusOfMany(
  services: SubscriptionServices,
  req: Request,
  { clientKey }: Caller,
): Promise<FhirAnswer> {
  const pairs = readOperation(services, req, ['id', 'status']);
  const ids = valuesOf(pairs, 'id');
  const statuses = valuesOf(pairs, 'status');
  const nowMs = services.clock();
  const own = await findOwnSubscriptions(services.readers, clientKey);
  return statusBundle(
    services,
    own.filter(
      (one) =>
        (ids.length === 0 || ids.includes(one.subscriptionId)) &&
        (statuses.length === 0 || statuses.includes(statusAt(one, nowMs))),
    ),
    '$status',
    pairs,
  );
}

function readNumber(pairs: readonly Pair[], name: string): number | null {
  const [value, ...more] = valuesOf(pairs, name);
  if (value === undefined) return null;
  if (more.length > 0 || !/^\d{1,15}$/.test(value)) throw badValue(name, 'is not one event number');
  return Number(value);
}

function readContent(pairs: readonly Pair[]): NotificationContent | null {
  const [value, ...more] = valuesOf(pairs, 'content');
  if (value === undefined) return null;
  const content = CONTENTS.find((one) => one === value);
  if (content === undefined || more.length > 0) {
    throw badValue('content', `is not one of ${CONTENTS.join(', ')}`);
  }
  return content;
}

/** Events by number, also those that are still to be delivered; no more than the caller may see now. */
export async function eventsOfOne(
  services: SubscriptionServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  const pairs = readOperation(services, req, ['eventsSinceNumber', 'eventsUntilNumber', 'content']);
  const { readers, baseUrl, clock } = services;
  const found = await findOwn(services, req, caller);
  const content = readContent(pairs) ?? found.content;
  const listed = await listEvents(readers, found.subscriptionKey, {
    from: readNumber(pairs, 'eventsSinceNumber') ?? 0,
    to: readNumber(pairs, 'eventsUntilNumber') ?? found.events,
    limit: MAX_EVENTS,
  });
  const events = visibleEvents(listed, caller.scopes);
  const facts = { type: 'query-event', content, count: found.events, events } as const;
  const text = await notificationText(found, { ...facts, baseUrl, nowMs: clock() });
  const patientIds = [...new Set(events.map(({ version }) => version.patient.id))];
  return { status: 200, text, ...(content === 'empty' ? {} : { looked: { patientIds } }) };
}
