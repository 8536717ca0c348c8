/** What the operation `$stats` is asked, by an address or by a Parameters resource. */
import { shownBy } from '../../store/shown-observations.js';
import type { Pair } from './query-parameters.js';
import { printableName } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import { readStatedTime } from './search-date.js';
import { referencedIds } from './search-parameter.js';
import type { SearchContext } from './search-parameter.js';
import { STATISTIC_CODES, statisticOf } from './statistics.js';
import type { StatisticCode } from './statistics.js';
import { ValueFault } from './token-values.js';
import type { Token } from './token-values.js';

export interface StatisticsRequest {
  readonly patientId: string;
  /** At least one. */
  readonly codes: readonly Token[];
  readonly fromMs: number;
  readonly toMs: number;
  readonly statistics: readonly StatisticCode[];
  readonly include: boolean;
  /** How many source Observations may be included. */
  readonly limit: number;
}

/** The most that is reckoned with, and included. */
export const MAX_SOURCES = 10_000;
const MAX_CODES = 50;
const HOUR_MS = 3_600_000;

const SINGLE = ['subject', 'system', 'duration', 'period', 'include', 'limit'];
const SEVERAL = ['code', 'coding', 'statistic'];
/** Of an answer's form, read elsewhere. */
const FORM = ['_format', '_pretty'];

/**
 * @param pairs a `coding` as `system|code`, a `period` as `start/end`
 * @throws HttpError 400 for what is missing, not offered, or cannot be understood.
 */
export function readStatisticsRequest(
  pairs: readonly Pair[],
  context: SearchContext,
): StatisticsRequest {
  const given = pairs.filter(([name]) => !FORM.includes(name));
  for (const [name] of given) {
    if (!SINGLE.includes(name) && !SEVERAL.includes(name)) {
      const shown = printableName(name);
      throw refusal(400, 'not-supported', `${shown} is no parameter of $stats.`, `http.${shown}`);
    }
  }
  const all = (name: string): string[] =>
    given.flatMap(([own, value]) => (own === name ? [value] : []));
  const one = (name: string): string | null => {
    const [first, ...more] = all(name);
    if (more.length > 0) throw badValue(name, 'stands more than once');
    return first ?? null;
  };
  const codes = readCodes(all('code'), one('system'), all('coding'));
  return {
    patientId: readSubject(one('subject'), context),
    codes,
    ...readStretch(one('duration'), one('period'), context),
    statistics: readStatistics(all('statistic')),
    include: readInclude(one('include')),
    limit: readLimit(one('limit')),
  };
}

function missing(name: string): Error {
  return refusal(400, 'required', `$stats asks for a ${name}.`, `http.${name}`);
}

function readSubject(subject: string | null, context: SearchContext): string {
  if (subject === null) throw missing('subject');
  const [id = ''] = referencedIds([subject.replace(/\\/g, '')], 'Patient', context);
  if (shownBy(id)?.as !== 'reading') throw badValue('subject', 'is no reference to a Patient here');
  return id;
}

function readCodes(
  codes: readonly string[],
  system: string | null,
  codings: readonly string[],
): Token[] {
  const tokens = [
    ...codes.map((code): Token => ({ system: system ?? undefined, code })),
    ...codings.map((coding): Token => {
      const at = coding.lastIndexOf('|');
      return { system: at < 0 ? undefined : coding.slice(0, at), code: coding.slice(at + 1) };
    }),
  ];
  if (tokens.length === 0) throw missing('code');
  if (tokens.length > MAX_CODES || tokens.some(({ code }) => code === '')) {
    throw badValue('code', `is empty, or there are more than ${MAX_CODES}`);
  }
  return tokens;
}

function readStretch(
  duration: string | null,
  period: string | null,
  { siteMs, nowMs }: SearchContext,
): { readonly fromMs: number; readonly toMs: number } {
  if (duration !== null && period !== null) {
    throw badValue('duration', 'does not go with a period');
  }
  if (duration !== null) {
    const hours = /^\d{1,7}(?:\.\d{1,6})?$/.test(duration) ? Number(duration) : 0;
    if (hours <= 0) throw badValue('duration', 'is a number of hours above 0');
    return { fromMs: nowMs - hours * HOUR_MS, toMs: nowMs };
  }
  if (period === null) throw missing('duration');
  try {
    const [start = '', end = ''] = period.split('/');
    const stretch = {
      fromMs:
        start === '' ? Date.parse('0001-01-01T00:00:00Z') : readStatedTime(start, siteMs).fromMs,
      toMs: end === '' ? nowMs : readStatedTime(end, siteMs).toMs,
    };
    if (stretch.fromMs >= stretch.toMs) throw new ValueFault('ends before it starts');
    return stretch;
  } catch (error) {
    if (error instanceof ValueFault) throw badValue('period', error.message);
    throw error;
  }
}

function readStatistics(words: readonly string[]): StatisticCode[] {
  if (words.length === 0) throw missing('statistic');
  // In an address they may also stand in one, with commas.
  const codes = words.flatMap((word) => word.split(',')).map(statisticOf);
  const known = codes.filter((code) => code !== null);
  if (known.length < codes.length) {
    const text = `$stats reckons ${STATISTIC_CODES.join(', ')}.`;
    throw refusal(400, 'not-supported', text, 'http.statistic');
  }
  return [...new Set(known)];
}

function readInclude(include: string | null): boolean {
  if (include !== null && include !== 'true' && include !== 'false') {
    throw badValue('include', 'is not true or false');
  }
  return include === 'true';
}

function readLimit(limit: string | null): number {
  if (limit === null) return MAX_SOURCES;
  if (!/^[1-9]\d{0,8}$/.test(limit)) throw badValue('limit', 'is not a whole number from 1 up');
  return Math.min(Number(limit), MAX_SOURCES);
}
