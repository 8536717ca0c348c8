import type { Request, Response } from 'express';
import { readReviewFigures } from '../../store/review-summary.js';
import type {
  HeldFigure,
  Recent,
  ReviewFigures,
  VerdictFigure,
} from '../../store/review-summary.js';
import { HOLD_KINDS, VERDICTS } from '../../vitals/words.js';
import { jsonResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { isoTime } from './render-reading.js';
import type { ReviewServices } from './services.js';

type Json = Record<string, unknown>;

/** Places beyond this many are left out, the least troubled first. */
const MAX_PLACES = 100;

const sum = (numbers: readonly number[]): number => numbers.reduce((all, one) => all + one, 0);

function countOf(figures: readonly HeldFigure[]): number {
  return sum(figures.map(({ count }) => count));
}

function earliest(times: readonly (number | null)[]): number | null {
  const known = times.filter((time) => time !== null);
  return known.length === 0 ? null : Math.min(...known);
}

/** Held readings, all of them out or none. */
function renderHeld(figures: readonly HeldFigure[], nowMs: number): Json {
  const oldestMs = earliest(figures.map(({ sinceMs }) => sinceMs));
  const of = (kind: string): number => countOf(figures.filter(({ hold }) => hold === kind));
  return {
    count: countOf(figures),
    critical: countOf(figures.filter(({ critical }) => critical)),
    other: countOf(figures.filter(({ critical }) => !critical)),
    byHold: Object.fromEntries(HOLD_KINDS.map((kind) => [kind, of(kind)])),
    oldestSince: isoTime(oldestMs),
    oldestAgeSeconds: oldestMs === null ? null : Math.max(0, Math.round((nowMs - oldestMs) / 1000)),
  };
}

function recently(figures: readonly Recent[]): Json {
  return {
    last24Hours: sum(figures.map(({ day }) => day)),
    last7Days: sum(figures.map(({ week }) => week)),
  };
}

function byVerdict(figures: readonly VerdictFigure[]): Json {
  return Object.fromEntries(
    VERDICTS.map((verdict) => [
      verdict,
      recently(figures.filter((one) => one.verdict === verdict)),
    ]),
  );
}

/** How many of these were held or rejected in the week: what is looked at first. */
function trouble(figures: readonly VerdictFigure[]): number {
  return sum(
    figures
      .filter(({ verdict }) => verdict === 'held' || verdict === 'rejected')
      .map(({ week }) => week),
  );
}

/** Figures by the word that `nameOf` gives them, the most troubled first. */
function grouped<F>(
  figures: readonly F[],
  nameOf: (figure: F) => string | null,
): [string | null, F[]][] {
  const groups = new Map<string | null, F[]>();
  for (const figure of figures) {
    const name = nameOf(figure);
    groups.set(name, [...(groups.get(name) ?? []), figure]);
  }
  return [...groups];
}

function renderFigures(figures: ReviewFigures): Json {
  const { nowMs, held, verdicts, rules, refusals, partial } = figures;
  const waiting = held.filter(({ published }) => !published);
  const byTrouble = (nameOf: (figure: VerdictFigure) => string | null) =>
    grouped(verdicts, nameOf).sort(([, a], [, b]) => trouble(b) - trouble(a));
  return {
    asOf: isoTime(nowMs),
    waiting: {
      ...renderHeld(waiting, nowMs),
      nextDeadline: isoTime(earliest(waiting.map(({ deadlineMs }) => deadlineMs))),
    },
    out: renderHeld(
      held.filter(({ published }) => published),
      nowMs,
    ),
    verdicts: byVerdict(verdicts),
    byRule: [...rules]
      .sort((a, b) => b.week - a.week)
      .map((one) => ({ rule: one.rule, ...recently([one]) })),
    bySource: byTrouble(({ source }) => source).map(([source, own]) => ({
      source,
      ...byVerdict(own),
    })),
    byLocation: byTrouble(({ place }) => place)
      .slice(0, MAX_PLACES)
      .map(([location, own]) => ({ location, ...byVerdict(own) })),
    refusedSubmissions: {
      ...recently(refusals),
      byStatus: grouped(refusals, ({ status }) => String(status)).map(([status, own]) => ({
        status: Number(status),
        ...recently(own),
      })),
      bySource: grouped(refusals, ({ source }) => source).map(([source, own]) => ({
        source,
        ...recently(own),
      })),
    },
    countedInPart: partial,
  };
}

export function summaryRoute(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/summary',
    scopes: ['review.read'],
    summary: 'Figures: what waits, what is out unconfirmed, what the last days brought',
    description:
      'Readings are counted by their newest version, and by when that was made; `byRule` counts the findings on held and rejected ones. `countedInPart` names the figures that stopped at their limit: there is more.',
    responses: { 200: jsonResponse('The figures.', 'review-summary') },
    audit: { action: 'review-summary' },
    async handler(_req: Request, res: Response) {
      sendJson(res, 200, renderFigures(await readReviewFigures(services.pool)));
    },
  };
}
