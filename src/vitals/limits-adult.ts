/**
 * Interpretation bands of adults. Critical values follow the bands that score 3 in NEWS2, one published
 * and consistent set, except where the source beside the limit says otherwise.
 */
import { band } from './limits-band.js';
import { NEWS2, NICE_NG136, PROPOSED, proposedAfter, TEAM_CALLING } from './limits-sources.js';

const ADULT = 'from 18 years';

export const ADULT_BANDS = {
  breathing: band(null, ADULT, [
    [8, NEWS2],
    [12, NEWS2],
    [20, NEWS2],
    [25, NEWS2],
  ]),
  /** Scale 1. The target of a prescribed oxygen therapy is not known here. */
  saturation: band(null, ADULT, [[91, NEWS2], [96, NEWS2], null, null]),
  systolic: band(null, ADULT, [
    [90, NEWS2],
    [101, NEWS2],
    [139, NICE_NG136],
    [220, NEWS2],
  ]),
  diastolic: band(null, ADULT, [
    [39, PROPOSED],
    [60, PROPOSED],
    [89, NICE_NG136],
    [120, NICE_NG136],
  ]),
  pulse: band(null, ADULT, [
    [40, NEWS2],
    // NEWS2 gives no points from 51 to 90.
    [60, PROPOSED],
    [100, PROPOSED],
    [131, NEWS2],
  ]),
  temperature: band(null, ADULT, [
    [35.0, NEWS2],
    [36.1, NEWS2],
    [38.0, NEWS2],
    // NEWS2 has no band of 3 points for fever.
    [40.0, TEAM_CALLING],
  ]),
};

/**
 * The sources at hand have no saturation and, past the newborn, no temperature of their own for
 * children. A child's value must not pass as nothing: the adult figures stand in, marked as proposed.
 */
const NEWS2_FOR_CHILDREN = proposedAfter(NEWS2);
const CHILD = { months: 216 };

export const CHILD_SATURATION = band(CHILD, 'under 18 years', [
  [91, NEWS2_FOR_CHILDREN],
  [96, NEWS2_FOR_CHILDREN],
  null,
  null,
]);

export const CHILD_TEMPERATURE = band(CHILD, '28 days to 17 years', [
  [35.0, NEWS2_FOR_CHILDREN],
  [36.1, NEWS2_FOR_CHILDREN],
  [38.0, NEWS2_FOR_CHILDREN],
  [40.0, TEAM_CALLING],
]);
