/** Configurations of an invented site, and readings whose verdict they change. */
import { pressure } from '../../setup/example-sets.js';

export interface Configuration {
  readonly name: string;
  readonly settings: Readonly<Record<string, unknown>>;
  readonly rules?: Readonly<Record<string, { readonly enabled: boolean }>>;
}

const source = { document: 'Larkfield, ward rules', section: '2', year: 2026 };

/** Settings by id: the number and its unit. */
export function configuration(
  settings: Readonly<Record<string, readonly [at: number, unit: string]>>,
): Configuration {
  return {
    name: 'Larkfield',
    settings: Object.fromEntries(
      Object.entries(settings).map(([id, [at, unit]]) => [id, { at, unit, source }]),
    ),
  };
}

/** By default a difference of 18 mmHg is noted; here it is held. */
export const STRICTER = configuration({
  'blood-pressure-methods-disagree.systolic': [15, 'mm[Hg]'],
});

/** Two pressures that differ by 18 and 4 mmHg. */
export const twoPressures = (systolic = 120): Record<string, unknown>[] => [
  pressure('auscultation', systolic, 76),
  pressure('oscillometry', systolic + 18, 80),
];
