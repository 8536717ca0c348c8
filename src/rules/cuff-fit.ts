/** Whether the cuff named fits the arm measured. Small cuffs read high, large ones low. */
import type { Limits } from '../vitals/limits.js';
import type { NamedSettingId } from '../vitals/settings.js';
import type { Reading } from '../vitals/shapes.js';
import type { CuffSize } from '../vitals/words.js';
import type { Remark } from './rule.js';

const CUFF_WORDS: Readonly<Record<CuffSize, string>> = {
  infant: 'an infant cuff',
  child: 'a cuff for children',
  'small-adult': 'a small adult cuff',
  adult: 'an adult cuff',
  'large-adult': 'a large adult cuff',
  thigh: 'a thigh cuff',
};

/** The settings that an arm must not pass, by the cuff used. */
export type CuffBounds = Readonly<Partial<Record<CuffSize, NamedSettingId>>>;

/** A remark where the arm lies beyond the bound of its cuff; the table is in whole centimetres. */
export function remarkOnCuff(
  { index, site, context }: Reading,
  limits: Limits,
  bounds: CuffBounds,
  side: 'small' | 'large',
): readonly Remark[] {
  const { cuffSize, armCircumferenceCm } = context;
  if (cuffSize === undefined || armCircumferenceCm === undefined) return [];
  const id = bounds[cuffSize];
  if (id === undefined || (site !== null && site !== 'upper-arm')) return [];
  const { at: limit, source } = limits.setting(id);
  const arm = Math.round(armCircumferenceCm);
  if (side === 'small' ? arm <= limit : arm >= limit) return [];
  return [
    {
      readings: [index],
      message: `An arm of ${armCircumferenceCm} cm was measured with ${CUFF_WORDS[cuffSize]}, which is too ${side} for it: the pressure may read too ${side === 'small' ? 'high' : 'low'}.`,
      advice: 'Measure again with the cuff that fits the arm.',
      figures: { value: armCircumferenceCm, limit, unit: 'cm' },
      sources: [source],
    },
  ];
}
