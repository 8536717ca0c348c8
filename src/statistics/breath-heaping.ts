/** Whether respiratory rates pile up at a few usual numbers, as those do that nobody counted. */
import type { Scale } from './last-digits.js';
import { mean, standardDeviation } from './summary.js';

export interface BreathHeaping {
  readonly counted: number;
  /** The share of 16, 18 and 20 a minute together. */
  readonly usualShare: number;
  readonly commonest: { readonly rate: number; readonly share: number } | null;
  /** Standard deviation over mean. */
  readonly variation: number;
  readonly finding: 'too-few' | 'as-expected' | 'heaped';
}

const USUAL = [16, 18, 20];

/** Fewer rates than these are shown without a judgement. */
export const BREATHS_AT_LEAST = 50;

/**
 * Bounds of our own, after two reports of what is written and what is breathed: of 36,966 admissions the rates
 * clustered at 18 and 20 (Badawy et al., BMJ Quality and Safety 2017;26:832), and 57 of 58 recorded rates lay
 * from 18 to 22 where the true ones went from 11 to 33 (Kory, JAMA 1957;165:448).
 * Counts over part of a minute give even rates only, of which these three are many among adults at rest.
 */
const USUAL_ABOVE: Readonly<Record<Scale, number>> = { 'every-digit': 0.6, 'even-digits': 0.8 };
const VARIATION_BELOW = 0.12;

export function breathHeaping(rates: readonly number[], scale: Scale): BreathHeaping {
  const counts = new Map<number, number>();
  for (const rate of rates) counts.set(rate, (counts.get(rate) ?? 0) + 1);
  const [most] = [...counts].sort(([a, m], [b, n]) => n - m || a - b);
  const counted = rates.length;
  const share = (count: number): number => (counted === 0 ? 0 : count / counted);
  const usualShare = share(USUAL.reduce((total, rate) => total + (counts.get(rate) ?? 0), 0));
  const variation = counted < 2 ? 0 : standardDeviation(rates) / mean(rates);
  const heaped = usualShare > USUAL_ABOVE[scale] || variation < VARIATION_BELOW;
  const finding = heaped ? 'heaped' : 'as-expected';
  return {
    counted,
    usualShare,
    commonest: most ? { rate: most[0], share: share(most[1]) } : null,
    variation,
    finding: counted < BREATHS_AT_LEAST ? 'too-few' : finding,
  };
}
