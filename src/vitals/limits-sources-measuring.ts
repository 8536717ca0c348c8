/** Where limits of change, of the circumstances of measuring and of its signs of care come from. */
import type { Source, Standing } from './limits-sources.js';

const source = (
  document: string,
  section: string,
  year: number | null,
  standing: Standing = 'read',
): Source => ({ document, section, year, standing });

// Change

/** On the grounds that change between ward readings told little beyond the value itself. */
export const OWN_CHANGE = source(
  'Common practice, after Churpek et al., trends of vital signs in 269,999 admissions',
  'no limit for change between ward readings is published',
  2016,
  'proposed',
);
export const POUND_FACTOR = source(
  'Avoirdupois pound, 0.45359237 kg',
  'ratio 2.2',
  1959,
  'proposed',
);
export const IDSA_FEVER = source(
  'IDSA guideline, fever in residents of long-term care facilities',
  'criteria of fever',
  2008,
);

// Calculation

/** The traditional formula; inside the artery the mean lay 5.0 ± 2.3 mmHg higher, at 39.5 ± 2.5 %. */
export const MEAN_FORMULA = source(
  'Bos et al., J Hypertens 25:751',
  'abstract, the traditional formula: one third of the pulse pressure',
  2007,
);

// Circumstances

export const CUFF_TABLE = source(
  'AHA, Measurement of blood pressure in humans',
  'bladder for the arm circumference',
  2019,
  'secondary copy',
);
export const ARM_LEVEL = source(
  'Pickering et al., AHA recommendations for blood pressure measurement',
  'arm and heart level',
  2005,
  'secondary copy',
);
export const INFLATION = source(
  'AHA/ACC, blood pressure measurement',
  'inflate 20 to 30 mmHg above the palpated systolic',
  null,
  'secondary copy',
);
export const POSITION_EFFECT = source(
  'J Hum Hypertens, supine against sitting blood pressure',
  'supine 9.5 ± 9.0 / 4.8 ± 6.0 mmHg higher',
  2003,
  'proposed',
);
export const DRINK_BEFORE_ORAL = source(
  'University of Virginia, oral temperature of 43 nurses after drinks',
  'minutes to baseline',
  null,
  'proposed',
);
export const COUNTING_WINDOW = source(
  'By arithmetic',
  'n events in T seconds are n × 60 / T a minute',
  null,
  'proposed',
);
export const BREATHS_OF_CHILDREN = source(
  'Arch Dis Child, counts of breaths in 97 children',
  'one minute, or twice 30 s, against 30 s doubled',
  1991,
  'proposed',
);

// Care

export const MANUAL_SCALE = source(
  'British Hypertension Society, measuring blood pressure',
  'read to the nearest 2 mmHg',
  null,
  'secondary copy',
);
export const IDENTICAL_SETS = source(
  'By arithmetic',
  'chance that independent readings agree, multiplied over the signs',
  null,
  'proposed',
);
