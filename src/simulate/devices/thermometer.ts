import type { Bedside, Measured } from './sample.js';

const SITES = { baby: 'axillary', child: 'tympanic', adult: 'oral' } as const;

/** To a tenth of a degree, in the unit of the bed's thermometer. */
export function readThermometer({ person, signs, noise }: Bedside): readonly Measured[] {
  const celsius = signs.temperature + noise.around(0.08);
  const shown =
    person.fahrenheit === true
      ? { value: (celsius * 1.8 + 32).toFixed(1), unit: '[degF]' }
      : { value: celsius.toFixed(1), unit: 'Cel' };
  const how = { method: 'thermometry', site: SITES[person.taken] } as const;
  return [{ reading: { vital: 'body-temperature', ...how, ...shown } }];
}
