/** Words that findings share: signs, amounts, methods and times as a nurse would say them. */
import { CATALOGUE } from '../vitals/catalogue.js';
import type { Moment, Reading } from '../vitals/shapes.js';
import type { Method, Part, Vital } from '../vitals/words.js';

/** "systolic pressure", "pulse rate". */
export function signName(vital: Vital, part: Part): string {
  return part === 'value' ? vital.replaceAll('-', ' ') : `${part} pressure`;
}

/** "126 mmHg"; what was typed behind it where that was another number: "38.61 °C (entered as 101.5 °F)". */
export function amount(reading: Reading, part: Part): string {
  const measured = reading.values[part];
  if (measured === undefined) return 'no value';
  const entered = enteredText(reading, part);
  const text = withUnit(measured.text, reading.vital);
  return entered === null ? text : `${text} (entered as ${entered})`;
}

/** A number with the sign's unit in words. */
export function withUnit(number: number | string, vital: Vital): string {
  return `${number} ${CATALOGUE[vital].unitText}`.trimEnd();
}

const ENTERED_UNIT_TEXT: Readonly<Record<string, string>> = {
  '[degF]': '°F',
  '[lb_av]': 'lb',
  '[in_i]': 'in',
};

function enteredText({ entered }: Reading, part: Part): string | null {
  if (entered === null) return null;
  if ('count' in entered) return `${entered.count} in ${entered.seconds} s`;
  const number = 'value' in entered ? entered.value : part === 'value' ? undefined : entered[part];
  return number === undefined
    ? null
    : `${number} ${ENTERED_UNIT_TEXT[entered.unit] ?? entered.unit}`;
}

/** "132/84 mmHg"; a pressure that was not measured is a dash. */
export function pressure({ values, vital }: Pick<Reading, 'values' | 'vital'>): string {
  const systolic = values.systolic?.text ?? '–';
  return withUnit(`${systolic}/${values.diastolic?.text ?? '–'}`, vital);
}

const METHOD_WORDS: Readonly<Record<Method, string>> = {
  counted: 'by counting',
  palpation: 'by touch',
  auscultation: 'by stethoscope',
  'pulse-oximetry': 'by oximeter',
  oscillometry: 'by automatic cuff',
  electrocardiography: 'by electrocardiogram',
  impedance: 'by chest electrodes',
  capnography: 'by capnograph',
  thermometry: 'by thermometer',
  invasive: 'by arterial line',
};

export function byMethod(method: Method | null): string {
  return method === null ? 'by an unstated method' : METHOD_WORDS[method];
}

/** Hour and minute in the zone in which the time was told: "08:15". */
export function clockTime({ epochMs, offsetMinutes }: Moment): string {
  return new Date(epochMs + offsetMinutes * 60_000).toISOString().slice(11, 16);
}

/** "12 min", "5 h 20 min", "3 days": cut off, days from two on. */
export function duration(lengthMs: number): string {
  const minutes = Math.floor(lengthMs / 60_000);
  const hours = Math.floor(minutes / 60);
  if (hours >= 48) return `${Math.floor(hours / 24)} days`;
  return hours === 0 ? `${minutes} min` : `${hours} h ${minutes % 60} min`;
}

/** "37 s" where {@link duration} would tell no minutes or few. */
export function lengthOfTime(lengthMs: number): string {
  return lengthMs < 120_000 ? `${Math.round(lengthMs / 1000)} s` : duration(lengthMs);
}

/** "a", "a and b", "a, b and c". */
export function listed(items: readonly string[]): string {
  const last = items.at(-1) ?? '';
  return items.length < 2 ? last : `${items.slice(0, -1).join(', ')} and ${last}`;
}

export function sentence(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
