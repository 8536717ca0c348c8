import type { ObservationKind } from '../../store/observation-conditions.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { DERIVED_KINDS, VITALS } from '../../vitals/words.js';
import { DERIVED_PROFILES } from './render-derived.js';
import { PANEL_PROFILES } from './render-panel.js';

/** What Observations name one of these profiles as theirs. */
export function kindsWithProfile(profiles: readonly string[]): ObservationKind[] {
  const measured = VITALS.filter((vital) => {
    const { profile, usCoreProfile } = CATALOGUE[vital];
    return profiles.includes(profile) || profiles.includes(usCoreProfile ?? profile);
  });
  const isOfDerived = DERIVED_PROFILES.some((profile) => profiles.includes(profile));
  const isOfPanel = PANEL_PROFILES.some((profile) => profiles.includes(profile));
  return [
    ...measured.map((vital) => ({ vital, methods: null, sites: null, part: null })),
    ...(isOfDerived ? DERIVED_KINDS : []).map((derived) => ({ derived })),
    ...(isOfPanel ? [{ panel: true as const }] : []),
  ];
}
