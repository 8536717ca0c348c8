/**
 * Figures by which automatic sphygmomanometers are validated, for orientation. A ward's pairs are no
 * validation: that takes a protocol, two trained observers, and patients chosen for it.
 */
import { normalShare } from './distributions.js';
import { mean, standardDeviation } from './summary.js';

export interface Shares {
  /** Of all differences, as parts of 1: at most 5, 10 and 15 mmHg, whichever sign. */
  readonly within5: number;
  readonly within10: number;
  readonly within15: number;
}

/** O'Brien et al., The British Hypertension Society protocol, Journal of Hypertension 1993;11(suppl 2):S43. */
export function sharesWithin(differences: readonly number[]): Shares {
  const within = (reach: number): number =>
    differences.filter((difference) => Math.abs(difference) <= reach).length / differences.length;
  return { within5: within(5), within10: within(10), within15: within(15) };
}

export interface ValidationFigures {
  /** ISO 81060-2, criterion 1: mean at most 5 and standard deviation at most 8 mmHg, all pairs. */
  readonly mean: number;
  readonly standardDeviation: number;
  readonly meetsFirst: boolean;
  /** Criterion 2: the standard deviation of the patients' means below a limit that falls with the mean. */
  readonly deviationOfMeans: number;
  readonly largestDeviation: number | null;
  readonly meetsSecond: boolean;
}

/** What the standard prints for a mean of 5 mmHg; worked out it would be 4.81. */
const AT_FIVE = 4.79;

/**
 * The standard deviation with which 85 of 100 differences lie within 10 mmHg, for a mean in steps of 0.1 and to
 * hundredths, as the standard tabulates it: 6.95 for a mean of 0, 4.79 for one of 5 mmHg. Null: beyond 5.
 */
export function largestDeviation(meanDifference: number): number | null {
  const off = Math.round(Math.abs(meanDifference) * 10) / 10;
  if (off > 5) return null;
  if (off === 5) return AT_FIVE;
  let low = 0;
  let high = 20;
  for (let at = 0; at < 60; at += 1) {
    const middle = (low + high) / 2;
    const within = normalShare((10 - off) / middle) - normalShare((-10 - off) / middle);
    if (within > 0.85) low = middle;
    else high = middle;
  }
  return Math.round(low * 100) / 100;
}

/** From the differences of each patient, device less reference. Null: fewer than two patients. */
export function validationFigures(
  patients: readonly (readonly number[])[],
): ValidationFigures | null {
  const groups = patients.filter(({ length }) => length > 0);
  if (groups.length < 2) return null;
  const all = groups.flat();
  const bias = mean(all);
  const deviation = standardDeviation(all);
  const deviationOfMeans = standardDeviation(groups.map((group) => mean(group)));
  const largest = largestDeviation(bias);
  return {
    mean: bias,
    standardDeviation: deviation,
    meetsFirst: Math.abs(bias) <= 5 && deviation <= 8,
    deviationOfMeans,
    largestDeviation: largest,
    meetsSecond: largest !== null && deviationOfMeans <= largest,
  };
}
