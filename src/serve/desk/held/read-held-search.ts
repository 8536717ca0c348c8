/** Which held readings a page is asked for. Nothing of a patient stands in its address. */
import type { Request } from 'express';
import { z } from 'zod';
import type { ReviewPosition } from '../../../store/review-readings.js';
import type { ReviewSearch } from '../../../store/review-search.js';
import { STATE_VERDICTS } from '../../../store/review-search.js';
import { VITALS } from '../../../vitals/words.js';
import type { ParameterSpec } from '../../http/route.js';
import { readCursor } from '../../review/cursor.js';
import { readQuery } from '../../review/read-search.js';

export const HELD_STATES = ['held', 'waiting', 'out', 'decided'] as const;
export type HeldState = (typeof HELD_STATES)[number];

const FORM = z.strictObject({
  state: z.enum(HELD_STATES).default('held'),
  rule: z.string().max(100).default(''),
  vital: z.union([z.enum(VITALS), z.literal('')]).default(''),
  after: z.string().max(1_000).optional(),
});

export const HELD_PARAMETERS: readonly ParameterSpec[] = [
  { name: 'state', in: 'query', description: 'held (all), waiting, out or decided.' },
  { name: 'rule', in: 'query', description: 'The rule that spoke.' },
  { name: 'vital', in: 'query', description: 'The sign.' },
  { name: 'after', in: 'query', description: 'The place after which the page begins.' },
];

const PLACE = z.tuple([z.int(), z.int(), z.uuid()]);

export interface HeldAsked {
  readonly state: HeldState;
  readonly rule: string;
  readonly vital: string;
  readonly search: ReviewSearch;
  /** Null: from the first on. */
  readonly after: ReviewPosition | null;
}

/** @throws HttpError 400 that says what is wrong. */
export function readHeldSearch(req: Request): HeldAsked {
  const { state, rule, vital, after } = readQuery(req, FORM);
  const search: ReviewSearch = {
    ...(state === 'held'
      ? { verdicts: ['held'] as const }
      : { state, verdicts: STATE_VERDICTS[state] }),
    ...(rule !== '' && { rule }),
    ...(vital !== '' && { vitals: [vital] }),
    taken: { fromMs: null, toMs: null },
    changed: { fromMs: null, toMs: null },
    sort: state === 'decided' ? 'newest' : 'urgency',
  };
  if (after === undefined) return { state, rule, vital, search, after: null };
  const [rank, atMs, id] = readCursor(after, search, PLACE);
  return { state, rule, vital, search, after: { rank, atMs, id } };
}

/** The address of a list with these choices. */
export function heldAddress(
  asked: Partial<Pick<HeldAsked, 'state' | 'rule' | 'vital'>> & { after?: string },
): string {
  const given = Object.entries(asked).filter(
    ([name, value]) => value !== '' && value !== 'held' && name !== 'search',
  );
  const query = new URLSearchParams(given).toString();
  return query === '' ? '/desk' : `/desk?${query}`;
}
