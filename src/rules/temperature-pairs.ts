/** Temperatures of two sites, held against each other as they are: no site is converted into another. */
import type { Limits } from '../vitals/limits.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import { earlierIds, findTwos, keptAt, ownIndexes, type Two } from './pairs.js';
import type { ReadingFacts, Remark } from './rule.js';
import { distance } from './tolerance.js';
import { amount, withUnit } from './wording.js';

type Rule = 'temperature-sites-differ' | 'temperature-sites-disagree';

/** Remarks on the pairs whose gap lies in the band of a rule. */
export function remarkOnTemperatures(
  rule: Rule,
  advice: string,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Remark[] {
  const { limits } = context;
  const windowMs = limits.ms('temperature-sites-disagree.window');
  const remarks: Remark[] = [];
  for (const two of findTwos('body-temperature', windowMs, context, standing)) {
    if (!areOtherSites(two.first, two.second)) continue;
    if (temperaturesContradict(limits, two.first, two.second)) {
      if (rule === 'temperature-sites-disagree') remarks.push(remark(rule, advice, limits, two));
    } else if (rule === 'temperature-sites-differ') {
      if (!temperaturesAgree(limits, two.first, two.second)) {
        remarks.push(remark(rule, advice, limits, two));
      }
    }
  }
  return remarks;
}

function areOtherSites(a: Reading, b: Reading): boolean {
  return a.site !== null && b.site !== null && a.site !== b.site;
}

function gap(a: Reading, b: Reading): number {
  return distance(a.values.value?.number ?? 0, b.values.value?.number ?? 0);
}

export function temperaturesContradict(limits: Limits, a: Reading, b: Reading): boolean {
  return areOtherSites(a, b) && gap(a, b) > limits.at('temperature-sites-disagree.difference');
}

export function temperaturesAgree(limits: Limits, a: Reading, b: Reading): boolean {
  return gap(a, b) <= limits.at('temperature-sites-differ.difference');
}

function remark(rule: Rule, advice: string, limits: Limits, two: Two): Remark {
  const { first, second, earlier } = two;
  const { at, source } = limits.setting(`${rule}.difference`);
  const difference = gap(first, second);
  const told = (reading: Reading): string =>
    `${reading.site ?? ''} (${amount(reading, 'value')}${keptAt(reading, earlier)})`;
  const discreetMessage = `Temperatures ${first.site ?? ''} and ${second.site ?? ''}, one of them sent before, differ by more than ${withUnit(at, 'body-temperature')}.`;
  return {
    readings: ownIndexes([first, second], earlier),
    ...earlierIds(earlier),
    message: `Temperatures ${told(first)} and ${told(second)} differ by ${withUnit(difference, 'body-temperature')}; ${withUnit(at, 'body-temperature')} is the limit.`,
    ...(earlier === null ? {} : { discreetMessage }),
    advice,
    figures: { difference, limit: at, unit: 'Cel' },
    sources: [source],
  };
}
