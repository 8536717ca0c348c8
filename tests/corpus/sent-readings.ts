/** Readings as a sender sends them, in the fewest words. */

type Wire = object;
/** The sets of one patient by minute. */
export type Story = readonly (readonly [minute: number, readings: readonly Wire[]])[];

export const reading = (vital: string, unit: string, value: number, rest: object = {}): Wire => ({
  ...{ vital, unit, value },
  ...rest,
});
export const pulse = (method: string, value: number, rest: object = {}): Wire =>
  reading('pulse-rate', '/min', value, { method, ...rest });
export const breaths = (method: string, value: number, rest: object = {}): Wire =>
  reading('respiratory-rate', '/min', value, { method, ...rest });
const pressure = (
  method: string,
  systolic: number,
  diastolic: number,
  rest: object = {},
): Wire => ({
  vital: 'blood-pressure',
  ...{ method, systolic, diastolic, unit: 'mm[Hg]' },
  ...rest,
});
export const byEar = (systolic: number, diastolic = 80, rest: object = {}): Wire =>
  pressure('auscultation', systolic, diastolic, rest);
export const byCuff = (systolic: number, diastolic = 80, rest: object = {}): Wire =>
  pressure('oscillometry', systolic, diastolic, rest);
export const warmth = (site: string, value: number, rest: object = {}): Wire =>
  reading('body-temperature', 'Cel', value, { site, ...rest });
export const saturation = (value: number): Wire => reading('oxygen-saturation', '%', value);
export const weight = (value: number): Wire => reading('body-weight', 'kg', value);
export const flow = (value: number): Wire => reading('oxygen-flow', 'L/min', value);
export const inspired = (value: number): Wire => reading('inspired-oxygen', '%', value);

export const together = (...readings: readonly Wire[]): Story => [[0, readings]];
/** The second so many minutes after the first. */
export const apart = (minutes: number, first: readonly Wire[], second: readonly Wire[]): Story => [
  [0, first],
  [minutes, second],
];
