/**
 * Peak expiratory flow, l/min, of 17 people: the first readings by the Wright and by the mini Wright meter.
 * Bland and Altman, Lancet 1986;i:307-10, the first table.
 */
export const PEAK_FLOWS: readonly (readonly [wright: number, mini: number])[] = [
  [494, 512],
  [395, 430],
  [516, 520],
  [434, 428],
  [476, 500],
  [557, 600],
  [413, 364],
  [442, 380],
  [650, 658],
  [433, 445],
  [417, 432],
  [656, 626],
  [267, 260],
  [478, 477],
  [178, 259],
  [423, 350],
  [427, 451],
];
