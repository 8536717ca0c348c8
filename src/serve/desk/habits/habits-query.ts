import { z } from 'zod';
import { word } from '../../review/parameter-forms.js';
import { PERIOD_FORMS, optional, readForms, readPeriod } from '../figures/read-period.js';
import type { Period } from '../figures/read-period.js';
import type { FiguresServices } from '../figures/services.js';

export const GROUPINGS = ['person', 'ward'] as const;
export type Grouping = (typeof GROUPINGS)[number];

export interface HabitsQuery {
  readonly period: Period;
  readonly by: Grouping;
  readonly ward: string | undefined;
  readonly personId: string | undefined;
}

const Query = z.strictObject({
  ...PERIOD_FORMS,
  by: optional(word(GROUPINGS)),
  person: optional(z.uuid('must be one of those on the page')),
});

/** @throws HttpError 400 */
export function readHabitsQuery(
  query: unknown,
  services: Pick<FiguresServices, 'siteZone' | 'clock'>,
): HabitsQuery {
  const asked = readForms(Query, query);
  return {
    period: readPeriod(asked, services),
    by: asked.by ?? 'person',
    ward: asked.ward,
    personId: asked.person,
  };
}

/** The address of the same report with something else asked. */
export function habitsAddress(
  { period: { from, to }, by, ward, personId }: HabitsQuery,
  other: Partial<Record<'by' | 'ward' | 'person', string>> = {},
  path = '/desk/habits',
): string {
  const asked = { from, to, by, ward, person: personId, ...other };
  const told = Object.entries(asked).filter((entry): entry is [string, string] => !!entry[1]);
  return `${path}?${new URLSearchParams(told).toString()}`;
}
