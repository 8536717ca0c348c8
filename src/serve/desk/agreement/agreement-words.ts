/** The words of the page, by what is compared. */
import {
  writeCount,
  writeNumber,
  writeRange,
  writeShare,
  writeSigned,
} from '../figures/write-figures.js';
import type { Counted, DriftState } from './agreement-figures.js';
import type { AgreementSign } from './agreement-query.js';

export interface SignWords {
  readonly name: string;
  readonly unit: string;
  readonly byHand: string;
  readonly byDevice: string;
}

const PRESSURE = { unit: 'mmHg', byHand: 'stethoscope', byDevice: 'automatic cuff' } as const;

export const SIGN_WORDS: Readonly<Record<AgreementSign, SignWords>> = {
  systolic: { name: 'Systolic pressure', ...PRESSURE },
  diastolic: { name: 'Diastolic pressure', ...PRESSURE },
  pulse: { name: 'Pulse', unit: '/min', byHand: 'fingers', byDevice: 'oximeter' },
};

/** What a person who sees no chart must know, and everybody else reads first. */
export function summarise({ name, unit, byHand, byDevice }: SignWords, counted: Counted): string {
  const { figures } = counted;
  if (figures === null) return '';
  const { bias, biasInterval, limits } = figures.agreement;
  const high = bias > 0 ? 'higher' : 'lower';
  const isClear = biasInterval.low > 0 || biasInterval.high < 0;
  const tendency = isClear
    ? `On average the ${byDevice} reads ${writeNumber(Math.abs(bias))} ${unit} ${high} than the ${byHand}.`
    : `No steady difference between ${byDevice} and ${byHand} shows: ${writeRange(biasInterval)} ${unit} can be chance.`;
  return `${name}, ${countWords(counted)}. ${tendency} Of 100 single comparisons about 95 lie between ${writeSigned(limits.low)} and ${writeSigned(limits.high)} ${unit}; ${writeShare(figures.shares.within10)} of these lie within 10 ${unit}.`;
}

export function countWords({ pairs, patients }: Pick<Counted, 'pairs' | 'patients'>): string {
  return `${writeCount(pairs, 'pair')} of ${writeCount(patients, 'patient')}`;
}

const DRIFT_WORDS: Readonly<Record<DriftState['state'], string>> = {
  'too-few': 'too few pairs',
  steady: 'steady',
  risen: 'risen',
  fallen: 'fallen',
};

export function driftWords({ state }: DriftState): string {
  return DRIFT_WORDS[state];
}
