/**
 * What was refused, searched by the fields of a form. They come in an address, so that a search can be
 * kept and sent; a patient never does: a search that names one comes as the body of a form.
 */
import type { ReviewSearch, ReviewState } from '../../../store/review-search.js';
import type { SubmissionSearch } from '../../../store/review-submissions.js';
import type { UnreadSearch } from '../../../store/unread-rows.js';
import { REASON_CODES } from '../../../vitals/decisions.js';
import { UNREAD_REASONS } from '../../../vitals/device-report.js';
import { VITALS } from '../../../vitals/words.js';
import type { ParameterSpec } from '../../http/route.js';
import { readSiteTime } from '../../pages/site-time.js';
import { isSearchText } from '../../review/parameter-forms.js';

/** What can be looked at: single readings, whole submissions, rows of messages. */
export const REFUSED_THINGS = ['readings', 'submissions', 'rows'] as const;
export type RefusedThing = (typeof REFUSED_THINGS)[number];

/** Submissions of which nothing was taken, or every reading was rejected. */
export const REFUSED_STATUSES = [400, 409, 412, 422] as const;

const FIELD_NAMES = [
  'from',
  'to',
  'source',
  'ward',
  'device',
  'vital',
  'rule',
  'by',
  'reason',
  'status',
  'unread',
  'code',
  'patient',
] as const;
export type FieldName = (typeof FIELD_NAMES)[number];

/** So that the audit trail says by which fields was searched; of their values it keeps digests. */
export const SEARCH_PARAMETERS: readonly ParameterSpec[] = ['of', 'cursor', ...FIELD_NAMES].map(
  (name) => ({ name, in: 'query', description: 'A field of the search.' }),
);

export interface RejectedSearch {
  readonly thing: RefusedThing;
  /** As they were sent, blanks left out. */
  readonly fields: Readonly<Partial<Record<FieldName, string>>>;
  /** What is wrong with a field; with any, nothing is searched. */
  readonly faults: Readonly<Partial<Record<FieldName, string>>>;
  /** From (inclusive) and to (exclusive), in ms since the epoch. */
  readonly fromMs: number | null;
  readonly toMs: number | null;
  readonly cursor: string | undefined;
}

/** @param zone IANA name: the zone that times without an offset are meant in */
export function readSearchFields(sent: URLSearchParams, zone: string): RejectedSearch {
  const fields: Partial<Record<FieldName, string>> = {};
  const faults: Partial<Record<FieldName, string>> = {};
  for (const name of FIELD_NAMES) {
    const text = (sent.get(name) ?? '').trim();
    if (text === '') continue;
    fields[name] = text;
    const fault = faultOf(name, text);
    if (fault !== null) faults[name] = fault;
  }
  const timeOf = (name: 'from' | 'to'): number | null => {
    const text = fields[name];
    if (text === undefined) return null;
    const atMs = readSiteTime(text, zone);
    if (atMs === null) faults[name] = 'must be a date, or a date and a time';
    return atMs;
  };
  const [fromMs, toMs] = [timeOf('from'), timeOf('to')];
  if (fromMs !== null && toMs !== null && toMs <= fromMs) faults.to = 'must be after the beginning';
  const cursor = sent.get('cursor') ?? undefined;
  return { thing: thingOf(sent.get('of')), fields, faults, fromMs, toMs, cursor };
}

function thingOf(text: string | null): RefusedThing {
  return REFUSED_THINGS.find((one) => one === text) ?? 'readings';
}

const WORD_LISTS: Readonly<Partial<Record<FieldName, readonly string[]>>> = {
  vital: VITALS,
  by: ['rules', 'person'],
  reason: REASON_CODES,
  status: REFUSED_STATUSES.map(String),
  unread: UNREAD_REASONS,
};

function faultOf(name: FieldName, text: string): string | null {
  const words = WORD_LISTS[name];
  if (words !== undefined && !words.includes(text)) return `must be one of ${words.join(', ')}`;
  return isSearchText(text) ? null : 'must be at most 300 characters, and no control characters';
}

/** The fields as an address has them. The patient is left out, whatever was sent. */
export function addressOf(
  path: string,
  { thing, fields }: Pick<RejectedSearch, 'thing' | 'fields'>,
  more: Readonly<Record<string, string>> = {},
): string {
  const query = new URLSearchParams(thing === 'readings' ? {} : { of: thing });
  for (const [name, text] of Object.entries(fields)) {
    if (name !== 'patient') query.set(name, text);
  }
  for (const [name, text] of Object.entries(more)) query.set(name, text);
  const written = query.toString();
  return written === '' ? path : `${path}?${written}`;
}

/** `system|value`, or a value of whatever numbering. */
function named(text: string): { system: string; value: string } | { value: string } {
  const bar = text.indexOf('|');
  return bar < 1 ? { value: text } : { system: text.slice(0, bar), value: text.slice(bar + 1) };
}

const STATES: Readonly<Record<string, ReviewState>> = { rules: 'rejected', person: 'decided' };

/** The search for single readings. */
export function toReadingSearch({ fields, fromMs, toMs }: RejectedSearch): ReviewSearch {
  const { source, ward, device, vital, rule, by, reason, patient } = fields;
  return {
    state: by === undefined ? undefined : STATES[by],
    verdicts: ['rejected'],
    vitals: vital === undefined ? undefined : VITALS.filter((one) => one === vital),
    ...{ rule, source },
    location: ward?.replace(/\/+$/, ''),
    device: device === undefined ? undefined : named(device),
    patient: patient === undefined ? undefined : named(patient),
    reasonCode: REASON_CODES.find((one) => one === reason),
    taken: { fromMs: null, toMs: null },
    changed: { fromMs, toMs },
    sort: 'newest',
  };
}

export function toSubmissionSearch({ fields, fromMs, toMs }: RejectedSearch): SubmissionSearch {
  return {
    statuses: fields.status === undefined ? REFUSED_STATUSES : [Number(fields.status)],
    source: fields.source,
    receivedFromMs: fromMs,
    receivedToMs: toMs,
  };
}

export function toUnreadSearch({ fields, fromMs, toMs }: RejectedSearch): UnreadSearch {
  return {
    reason: UNREAD_REASONS.find((one) => one === fields.unread),
    source: fields.source,
    code: fields.code,
    receivedFromMs: fromMs,
    receivedToMs: toMs,
  };
}
