/** One Observation, as far as it can be read without following its references. */
import type { Observation } from 'fhir/r4.js';
import type { ContextKind } from '../../vitals/coded-sign.js';
import { DERIVED_SYSTEM } from '../../vitals/derived-catalogue.js';
import type { UnreadRow } from '../../vitals/device-report.js';
import { findSign, type CodeFound } from '../../vitals/find-sign.js';
import { refuseExtensions } from './extensions.js';
import type { Faults } from './fhir-fault.js';
import { refuseElements } from './observation-elements.js';
import { sentCodes } from './read-concepts.js';
import { readMeasured, type Measured } from './read-measured.js';
import { readTime, type ReadTime } from './read-time.js';
import { readTrust, type Trust } from './read-trust.js';
import { hasMeasurement } from './read-value.js';
import type { Surroundings } from './sent-entry.js';

export type ObservationRead =
  | {
      readonly kind: 'reading';
      readonly drafts: Measured['drafts'];
      readonly time: ReadTime;
      readonly trust: Trust;
      /** It speaks of one that was sent before. */
      readonly amends?: 'correct' | 'withdraw';
    }
  /** It brings no reading: kept for the analyst. */
  | { readonly kind: 'unread'; readonly row: Omit<UnreadRow, 'at'> }
  | { readonly kind: 'context'; readonly context: ContextKind }
  /** The head of a panel of vital signs. */
  | { readonly kind: 'panel' };

/** LOINC: vital signs panel (FHIR R4, profile vitalspanel). */
const VITALS_PANEL = '85353-1';
/** As kept for an analyst. */
const MAX_AS_SENT = 200;

/** @param observation its form was checked */
export function readObservation(
  observation: Observation,
  around: Surroundings,
  faults: Faults,
): ObservationRead {
  const codes = sentCodes(observation.code);
  const found = findSign(codes, around.profile.mapping.codes);
  if (found.kind === 'context') return { kind: 'context', context: found.context };
  if (codes.some(({ code }) => code === VITALS_PANEL)) return { kind: 'panel' };
  if (isCalculated(observation, found)) {
    const calculated = { kind: 'not-a-vital-sign', about: CALCULATED, doubts: [] } as const;
    return { kind: 'unread', row: unreadRow(observation, calculated) };
  }
  if (found.kind === 'unmapped' || found.kind === 'not-a-vital-sign') {
    return { kind: 'unread', row: unreadRow(observation, found) };
  }
  refuseElements(observation, faults);
  refuseExtensions(observation, faults);
  refuseCategories(observation, faults);
  refuseNarrative(observation, faults);
  const { value, drafts } = readMeasured(observation, found, around, faults);
  const trust = readTrust(observation, hasMeasurement(value), faults);
  const time = readTime(observation, faults);
  const amends = AMENDING[observation.status];
  if (amends === 'withdraw') return { kind: 'reading', drafts, time, trust, amends };
  if (value.value === null) return { kind: 'unread', row: emptyRow(observation, value.reason) };
  return { kind: 'reading', drafts, time, trust, ...(amends !== undefined && { amends }) };
}

/** Statuses of an Observation that was there before (FHIR R4, code system observation-status). */
const AMENDING: Readonly<Partial<Record<Observation['status'], 'correct' | 'withdraw'>>> = {
  amended: 'correct',
  corrected: 'correct',
  'entered-in-error': 'withdraw',
};

const CALCULATED = 'calculated from a pressure, and not measured';

/** By the gateway's own codes of calculated values; or a mean that says what it is derived from. */
function isCalculated({ code, derivedFrom = [] }: Observation, found: CodeFound): boolean {
  const own = (code.coding ?? []).some(({ system }) => system === DERIVED_SYSTEM);
  return own || (found.kind === 'sign' && found.sign.part === 'mean' && derivedFrom.length > 0);
}

/** What of the code is kept for the analyst. */
export function codeOf({ code: { coding = [], text } }: Observation): Pick<UnreadRow, 'code'> {
  const [first] = coding;
  const name = first?.display ?? text;
  return {
    code: {
      ...(first?.system !== undefined && { system: first.system }),
      code: first?.code ?? '',
      ...(name !== undefined && { name: name.slice(0, MAX_AS_SENT) }),
    },
  };
}

function unreadRow(observation: Observation, found: CodeFound): Omit<UnreadRow, 'at'> {
  const { valueQuantity } = observation;
  const unit = valueQuantity?.code ?? valueQuantity?.unit;
  return {
    ...(found.kind === 'not-a-vital-sign'
      ? { reason: 'not-a-vital-sign' as const, message: `It is ${found.about}.` }
      : { reason: 'code-unmapped' as const, message: 'None of its codings is known here.' }),
    ...codeOf(observation),
    ...(unit !== undefined && { unit: unit.slice(0, MAX_AS_SENT) }),
    ...(valueQuantity?.value !== undefined && { value: String(valueQuantity.value) }),
  };
}

function emptyRow(observation: Observation, reason = ''): Omit<UnreadRow, 'at'> {
  return {
    reason: 'no-value',
    message: 'It has no value, for a reason that says nothing of the patient.',
    ...codeOf(observation),
    value: reason.slice(0, MAX_AS_SENT),
  };
}

/** Base categories of R4 under which a vital sign may stand, and that of the Personal Health Device guide. */
const CATEGORIES: readonly string[] = [
  'http://terminology.hl7.org/CodeSystem/observation-category|vital-signs',
  'http://terminology.hl7.org/CodeSystem/observation-category|exam',
  'http://terminology.hl7.org/CodeSystem/observation-category|survey',
  'http://hl7.org/fhir/uv/phd/CodeSystem/PhdObservationCategories|phd',
];

/** A saturation under `laboratory` is one of a blood gas. */
function refuseCategories({ category = [] }: Observation, faults: Faults): void {
  category.forEach(({ coding = [] }, i) => {
    const names = coding.map(({ system = '', code = '' }) => `${system}|${code}`);
    if (names.some((name) => CATEGORIES.includes(name))) return;
    const text = `category[${i}] is none under which a vital sign is taken here.`;
    faults.refuse(`category[${i}]`, 'code-invalid', text);
  });
}

/** A narrative that says more than the elements would be lost. */
function refuseNarrative({ text }: Observation, faults: Faults): void {
  if (text?.status !== 'additional') return;
  faults.refuse('text', 'not-supported', 'text says more than the elements, which would be lost.');
}
