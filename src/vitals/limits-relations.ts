/** Limits between the parts of one reading, and the ranges in which another unit is suspected. */
import {
  limit,
  MEAN_FRACTION,
  PRESSURE_ARTEFACTS,
  PROPOSED,
  type Limit,
  type Source,
} from './limits-sources.js';

/** A pulse pressure below `narrowBelow` mmHg is doubted while the systolic is within `systolicUpTo`. */
export interface PulsePressureRow {
  readonly systolicUpTo: number;
  /** The end itself belongs to the row. */
  readonly inclusive: boolean;
  readonly narrowBelow: Limit;
}

/** Written for arterial lines under anaesthesia: on a ward a reason to hold, not to reject. */
export const NARROW_PULSE_PRESSURE: readonly PulsePressureRow[] = [
  { systolicUpTo: 100, inclusive: false, narrowBelow: limit(10, PRESSURE_ARTEFACTS) },
  { systolicUpTo: 150, inclusive: true, narrowBelow: limit(15, PRESSURE_ARTEFACTS) },
  { systolicUpTo: 200, inclusive: true, narrowBelow: limit(30, PRESSURE_ARTEFACTS) },
  { systolicUpTo: Infinity, inclusive: true, narrowBelow: limit(50, PRESSURE_ARTEFACTS) },
];

/** Pulse pressure in mmHg from which a note is made. */
export const WIDE_PULSE_PRESSURE = limit(150, PROPOSED);

/** Share of the pulse pressure by which the mean lies above the diastolic: 23 to 58 % in 1526 people. */
export const MEAN_SHARE: { readonly low: Limit; readonly high: Limit } = {
  low: limit(0.2, MEAN_FRACTION),
  high: limit(0.6, MEAN_FRACTION),
};

const UNIT_TRAP: Source = {
  document: 'Genes et al. 2013 (PMC3881102): Fahrenheit logged as Celsius',
  section: 'abstract',
  year: 2013,
  standing: 'proposed',
};

/** Both ends belong to a range. */
interface Range {
  readonly from: number;
  readonly to: number;
  readonly source: Source;
}

/** A number in a Celsius field that reads as Fahrenheit. */
export const FAHRENHEIT_AS_CELSIUS: Range = { from: 50, to: 120, source: UNIT_TRAP };

/** A number in a Fahrenheit field that reads as Celsius: below 50 °F, which is the reject bound of 10 °C. */
export const CELSIUS_AS_FAHRENHEIT = { from: 20, below: 50, source: UNIT_TRAP };

/** A share of oxygen written as a fraction of one; zero is none. */
export const FRACTION_UP_TO = limit(1, PROPOSED);

/**
 * Both together, in a mmHg field, from one year of age: kilopascal. A newborn's normal pressure may lie
 * as low (Versmold 1981: 44/24 mmHg at 750 g).
 */
export const KILOPASCAL_AS_MMHG: {
  readonly systolic: Range;
  readonly diastolic: Range;
  readonly fromMonths: number;
} = {
  systolic: { from: 5, to: 35, source: PROPOSED },
  diastolic: { from: 3, to: 20, source: PROPOSED },
  fromMonths: 12,
};
