import { CATALOGUE, type CatalogueRow } from '../vitals/catalogue.js';
import { canonicalDevice } from '../vitals/device-identifier.js';
import type {
  IncomingReading,
  Moment,
  Reading,
  ReadingContext,
  ReadingFault,
} from '../vitals/shapes.js';
import type { Position } from '../vitals/words.js';
import { toMoment } from './moment.js';
import { enteredAsTyped, findUnit, normaliseValues } from './normalise-values.js';

/** What a reading takes over from its set where it says nothing itself. */
export interface ReadingDefaults {
  readonly takenAt: string | Moment;
  readonly position?: Position | null;
}

const NO_CONTEXT: ReadingContext = {};

/**
 * Puts one reading into the gateway's own terms. What makes it unusable becomes a fault of it, to be
 * worded by the rule of that name; nothing is guessed and nothing is thrown.
 * @param index place of the reading in its set, counted from 0
 */
export function normaliseReading(
  incoming: IncomingReading,
  index: number,
  defaults: ReadingDefaults,
): Reading {
  const row = CATALOGUE[incoming.vital];
  const unit = findUnit(incoming, row);
  const faults = faultsOf(incoming, row);
  if (unit === 'unknown') faults.unshift('unit-unknown');
  const { values, entered } =
    unit === 'unknown' || faults.length > 0
      ? { values: {}, entered: enteredAsTyped(incoming, row) }
      : normaliseValues(incoming, row, unit);
  const takenAt = incoming.takenAt ?? defaults.takenAt;
  return {
    index,
    vital: incoming.vital,
    method: incoming.method ?? null,
    site: incoming.site ?? null,
    side: incoming.side ?? null,
    position: incoming.position ?? defaults.position ?? null,
    takenAt: typeof takenAt === 'string' ? toMoment(takenAt) : takenAt,
    unit: row.unit,
    values,
    code: faults.length > 0 ? null : (incoming.code ?? null),
    absent: incoming.absent ?? null,
    entered,
    context: contextOf(incoming),
    device: incoming.device === undefined ? null : canonicalDevice(incoming.device.identifier),
    note: incoming.note ?? null,
    faults,
    sentUnit: incoming.unit ?? null,
    ...(incoming.report !== undefined && { report: incoming.report }),
  };
}

function faultsOf({ method, site }: IncomingReading, row: CatalogueRow): ReadingFault[] {
  const faults: ReadingFault[] = [];
  if (method !== undefined && !row.methodsTaken.includes(method)) faults.push('method-not-taken');
  if (site !== undefined && !row.sitesTaken.includes(site)) faults.push('site-not-taken');
  return faults;
}

function contextOf(incoming: IncomingReading): ReadingContext {
  const context = {
    ...(incoming.confirmed !== undefined && { confirmed: incoming.confirmed }),
    ...(incoming.regular !== undefined && { regular: incoming.regular }),
    ...(incoming.cuffSize !== undefined && { cuffSize: incoming.cuffSize }),
    ...(incoming.armCircumferenceCm !== undefined && {
      armCircumferenceCm: incoming.armCircumferenceCm,
    }),
    ...(incoming.armAtHeartLevel !== undefined && { armAtHeartLevel: incoming.armAtHeartLevel }),
    ...(incoming.inflatedTo !== undefined && { inflatedTo: incoming.inflatedTo }),
    ...(incoming.minutesSinceHotDrink !== undefined && {
      minutesSinceHotDrink: incoming.minutesSinceHotDrink,
    }),
    ...(incoming.minutesSinceColdDrink !== undefined && {
      minutesSinceColdDrink: incoming.minutesSinceColdDrink,
    }),
  };
  return Object.keys(context).length === 0 ? NO_CONTEXT : context;
}
