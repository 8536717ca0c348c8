/** Values, units, dates as they are shown. */
import type { AnsweredReading, SiteDefaults } from '../door.js';
import type { Entry } from '../form/set-form.js';
import { stepOf } from '../form/steps.js';
import { perMinute } from '../form/count.js';
import { unitOf } from '../form/change-form.js';
import type { Language, Say } from './say.js';

const UNIT_TEXT: Readonly<Partial<Record<string, string>>> = {
  '/min': '/min',
  '{beats}/min': '/min',
  '{breaths}/min': '/min',
  '%': '%',
  'mm[Hg]': 'mmHg',
  kPa: 'kPa',
  Cel: '°C',
  '[degF]': '°F',
  kg: 'kg',
  g: 'g',
  '[lb_av]': 'lb',
  cm: 'cm',
  m: 'm',
  '[in_i]': 'in',
  'L/min': 'L/min',
};

export function unitText(unit: string): string {
  return UNIT_TEXT[unit] ?? unit;
}

/** "9 in 30 s × 2 = 18 a minute": the sum being done. */
export function countText(counted: NonNullable<Entry['counted']>, say: Say): string {
  const { count, seconds } = counted;
  const times = 60 / seconds;
  const gaps = { count, seconds, times, rate: perMinute(count, seconds) };
  return times === 1 ? say('count.sum-of-minute', gaps) : say('count.sum', gaps);
}

/** What an entry says so far, as short as in a list; empty: nothing yet. */
export function entryText(entry: Entry, units: SiteDefaults['units'], say: Say): string {
  if (entry.absent !== null) return say(`absent.${entry.absent}`);
  if (entry.code !== null) return say(`awareness.${entry.code}`);
  if (entry.counted !== null) {
    return `${perMinute(entry.counted.count, entry.counted.seconds)} /min`;
  }
  const { fields } = stepOf(entry.step);
  const typed = fields.filter(({ name }) => (entry.numbers[name] ?? '') !== '');
  const pressures = typed.filter(({ part }) => part === 'systolic' || part === 'diastolic');
  const others = typed.filter((field) => !pressures.includes(field));
  const texts = others.map((field) => {
    const unit = unitText(unitOf(entry, field, units));
    return `${field.part === 'mean' ? `${say('part.mean')} ` : ''}${entry.numbers[field.name] ?? ''} ${unit}`;
  });
  const [first] = fields;
  if (pressures.length > 0 && first !== undefined) {
    const both = ['systolic', 'diastolic'] as const;
    const numbers = both.map((name) => entry.numbers[name] ?? '–');
    texts.unshift(`${numbers.join('/')} ${unitText(unitOf(entry, first, units))}`);
  }
  return texts.join(' · ');
}

/** A reading as the gateway keeps it. */
export function answeredText(reading: AnsweredReading, say: Say): string {
  if (reading.absent !== undefined) return say(`absent.${reading.absent}`);
  if (reading.code !== undefined) return say(`awareness.${reading.code}`);
  const unit = unitText(reading.unit ?? '');
  if (reading.value !== undefined) return `${reading.value} ${unit}`;
  const { systolic = '–', diastolic = '–', mean } = reading;
  const both = `${systolic}/${diastolic} ${unit}`;
  return mean === undefined ? both : `${both} · ${say('part.mean')} ${mean} ${unit}`;
}

/** A FHIR date in words, as far as it is known. */
export function dateText(date: string, language: Language): string {
  const [year, month, day] = date.split('-').map(Number);
  if (year === undefined) return date;
  const at = new Date(Date.UTC(year, (month ?? 1) - 1, day ?? 1));
  return new Intl.DateTimeFormat(language === 'en' ? 'en-GB' : language, {
    timeZone: 'UTC',
    year: 'numeric',
    ...(month !== undefined && { month: 'long' }),
    ...(day !== undefined && { day: 'numeric' }),
  }).format(at);
}

/** The time of day of an RFC 3339 time, with its offset: "08:15 (+01:00)". */
export function momentText(moment: string): string {
  return `${moment.slice(11, 16)} (${moment.slice(19)})`;
}
