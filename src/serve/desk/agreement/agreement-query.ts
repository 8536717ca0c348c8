import { z } from 'zod';
import type { Identifier } from '../../../vitals/identifier.js';
import { identifier, text, word } from '../../review/parameter-forms.js';
import { PERIOD_FORMS, optional, readForms, readPeriod } from '../figures/read-period.js';
import type { Period } from '../figures/read-period.js';
import type { FiguresServices } from '../figures/services.js';

export const SIGNS = ['systolic', 'diastolic', 'pulse'] as const;
/** What is compared. */
export type AgreementSign = (typeof SIGNS)[number];

export const GROUPINGS = ['device', 'ward', 'person'] as const;
export type Grouping = (typeof GROUPINGS)[number];

export interface AgreementQuery {
  readonly sign: AgreementSign;
  readonly period: Period;
  readonly by: Grouping;
  readonly device: Identifier | undefined;
  readonly ward: string | undefined;
  readonly personId: string | undefined;
  /** Pairs of which a person rejected or withdrew a side count too. */
  readonly withTakenBack: boolean;
}

const Query = z.strictObject({
  ...PERIOD_FORMS,
  sign: optional(word(SIGNS)),
  by: optional(word(GROUPINGS)),
  device: optional(identifier),
  person: optional(z.uuid('must be one of those on the page')),
  'taken-back': optional(text),
});

/** @throws HttpError 400 */
export function readAgreementQuery(
  query: unknown,
  services: Pick<FiguresServices, 'siteZone' | 'clock'>,
): AgreementQuery {
  const asked = readForms(Query, query);
  return {
    sign: asked.sign ?? 'systolic',
    period: readPeriod(asked, services),
    by: asked.by ?? 'device',
    device: asked.device,
    ward: asked.ward,
    personId: asked.person,
    withTakenBack: asked['taken-back'] !== undefined,
  };
}

export function deviceName({ system, value }: Identifier): string {
  return `${system}|${value}`;
}

/** The address of the same report with something else asked. */
export function agreementAddress(
  query: AgreementQuery,
  other: Partial<Record<'sign' | 'by' | 'device' | 'ward' | 'person', string>> = {},
  path = '/desk/agreement',
): string {
  const asked = {
    sign: query.sign,
    from: query.period.from,
    to: query.period.to,
    by: query.by,
    device: query.device && deviceName(query.device),
    ward: query.ward,
    person: query.personId,
    'taken-back': query.withTakenBack ? 'yes' : undefined,
    ...other,
  };
  const told = Object.entries(asked).filter((entry): entry is [string, string] => !!entry[1]);
  return `${path}?${new URLSearchParams(told).toString()}`;
}
