/** What readings are searched by: the parameters of the address, and the members of a body. */
import type { Request } from 'express';
import { z } from 'zod';
import { REVIEW_STATES, STATE_VERDICTS } from '../../store/review-search.js';
import type { ReviewSearch } from '../../store/review-search.js';
import { VERDICTS, VITALS } from '../../vitals/words.js';
import { HttpError } from '../http/http-error.js';
import { readJson } from '../http/read-json.js';
import { flag, identifier, instant, text, whole, word, words } from './parameter-forms.js';

export const MAX_LIMIT = 200;
const DEFAULT_LIMIT = 50;
const SORTS = ['urgency', 'newest'] as const;

/** One page of a search. */
export interface SearchPage<S> {
  readonly search: S;
  readonly limit: number;
  readonly cursor: string | undefined;
}

export const PAGE_FORMS = {
  limit: whole(1, MAX_LIMIT).default(DEFAULT_LIMIT),
  cursor: text.max(1_000).optional(),
};

const FORMS = {
  state: word(REVIEW_STATES).optional(),
  verdict: words(VERDICTS).optional(),
  rule: text.optional(),
  source: text.optional(),
  location: text.transform((path) => path.replace(/\/+$/, '')).optional(),
  device: identifier.optional(),
  vital: words(VITALS).optional(),
  critical: flag.optional(),
  takenFrom: instant.optional(),
  takenTo: instant.optional(),
  changedFrom: instant.optional(),
  changedTo: instant.optional(),
  sort: word(SORTS).optional(),
  ...PAGE_FORMS,
};

const QuerySearch = z.strictObject(FORMS).check(checkTogether);
const BodySearch = z
  .strictObject({ ...FORMS, patient: identifier.optional() })
  .check(checkTogether);

type Asked = z.output<typeof BodySearch>;

/** What each parameter may be is known; here, what they may be together. */
function checkTogether({ value, issues }: z.core.ParsePayload<z.output<typeof QuerySearch>>): void {
  const refuse = (name: string, message: string): void => {
    issues.push({ code: 'custom', path: [name], message, input: value });
  };
  const verdicts = verdictsOf(value);
  if (verdicts.length === 0) refuse('verdict', `is none that a reading in this state can have`);
  if (value.sort === 'urgency' && !onlyHeld(verdicts)) {
    refuse(
      'sort',
      'by urgency orders held readings only: ask for state=waiting, state=out or verdict=held',
    );
  }
  if (isBackwards(value.takenFrom, value.takenTo)) refuse('takenTo', 'must be after takenFrom');
  if (isBackwards(value.changedFrom, value.changedTo)) {
    refuse('changedTo', 'must be after changedFrom');
  }
}

function isBackwards(from: number | undefined, to: number | undefined): boolean {
  return from !== undefined && to !== undefined && to <= from;
}

/** Asked for nothing in particular, an analyst sees what was held or rejected. */
function verdictsOf({
  state,
  verdict,
}: Pick<Asked, 'state' | 'verdict'>): ReviewSearch['verdicts'] {
  if (state === undefined) return verdict ?? ['held', 'rejected'];
  return STATE_VERDICTS[state].filter((one) => verdict?.includes(one) ?? true);
}

function onlyHeld(verdicts: ReviewSearch['verdicts']): boolean {
  return verdicts.every((verdict) => verdict === 'held');
}

function toPage(asked: Asked): SearchPage<ReviewSearch> {
  const { state, rule, source, location, device, patient, critical, vital } = asked;
  const { takenFrom, takenTo, changedFrom, changedTo, sort, limit, cursor } = asked;
  const verdicts = verdictsOf(asked);
  const search: ReviewSearch = {
    ...{ state, rule, source, location, device, patient, critical, vitals: vital, verdicts },
    taken: { fromMs: takenFrom ?? null, toMs: takenTo ?? null },
    changed: { fromMs: changedFrom ?? null, toMs: changedTo ?? null },
    sort: sort ?? (onlyHeld(verdicts) ? 'urgency' : 'newest'),
  };
  return { search, limit, cursor };
}

/** The search that an address asks for; throws a 400 that says all that is wrong with it. */
export function readQuerySearch(req: Request): SearchPage<ReviewSearch> {
  if ('patient' in req.query) {
    throw new HttpError({
      status: 400,
      detail:
        'A patient is never named in an address, which is written down on the way: send the search as a body to /review/readings/_search.',
    });
  }
  return toPage(readQuery(req, QuerySearch));
}

/** The search that a body asks for; throws a 400 that points at all that is wrong with it. */
export function readBodySearch(req: Request): SearchPage<ReviewSearch> {
  return toPage(readJson(req, BodySearch));
}

/** The parameters of an address; throws a 400 with a sentence for each that is wrong. */
export function readQuery<T>(req: Request, form: z.ZodType<T>): T {
  const read = form.safeParse(req.query);
  if (read.success) return read.data;
  const sentences = read.error.issues.map((issue) =>
    issue.code === 'unrecognized_keys'
      ? `There is no parameter ${issue.keys.join(', ')}.`
      : `${String(issue.path[0])} ${issue.message}.`,
  );
  throw new HttpError({ status: 400, detail: [...new Set(sentences)].join(' ') });
}
