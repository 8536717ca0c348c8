/** An Observation of a vital sign as the readings that it brings. */
import type { Observation } from 'fhir/r4.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import type { CodedSign } from '../../vitals/coded-sign.js';
import type { CodeFound } from '../../vitals/find-sign.js';
import type { Faults } from './fhir-fault.js';
import { readCircumstances, withCodes, type Circumstances } from './read-circumstances.js';
import { readComponents, readSupplements, type SignComponent } from './read-components.js';
import { readPlace, sentCodes } from './read-concepts.js';
import { describeMeasured, readRemarks } from './read-notes.js';
import { readSign } from './read-sign.js';
import { readPressure, readValue } from './read-value.js';
import type { ReadingDraft, ReadValue } from './reading-draft.js';
import type { Surroundings } from './sent-entry.js';

/** What was measured; first the Observation's own sign, then those of its components. */
export interface Measured {
  readonly value: ReadValue;
  readonly drafts: readonly [ReadingDraft, ...ReadingDraft[]];
}

/** @param known what its code was found to be: a sign, or the panel of a pressure */
export function readMeasured(
  observation: Observation,
  known: CodeFound & { readonly kind: 'sign' | 'panel' },
  around: Surroundings,
  faults: Faults,
): Measured {
  const vital = known.kind === 'sign' ? known.sign.vital : 'blood-pressure';
  const elements = readCircumstances(observation, vital, faults);
  const told = { method: elements.method, site: elements.place.site };
  const found = readSign(sentCodes(observation.code), around.profile.mapping.codes, told);
  const sign = signOf(found, vital);
  const { parts, others, supplements } = readComponents(observation, told, around, faults);
  const isPanel = known.kind === 'panel';
  if (!isPanel) refuseParts([...parts.values()], faults);
  const value = isPanel
    ? readPressure(observation, parts, around, faults)
    : readValue(vital, sign.part ?? 'value', observation, '', around, faults);
  const heads = isPanel ? [...parts.values()] : [];
  const extra = readSupplements(supplements);
  const sites = extra.places.map((place): CodedSign => ({
    vital,
    ...readPlace(vital, place)?.place,
  }));
  const signs = [sign, ...heads.map((one) => one.sign), ...sites];
  const draft = draftOf(sign, value, withCodes(elements, signs), {
    doubts: [found, ...heads.map((one) => one.found)].flatMap((one) => one.doubts),
    notes: [
      ...readRemarks(observation),
      ...signs.flatMap((one) => one.note ?? []),
      ...extra.notes,
      ...[observation, ...heads.map(({ component }) => component)].flatMap((one) =>
        describeMeasured(one, around.digits),
      ),
    ],
  });
  return { value, drafts: [draft, ...others.flatMap((one) => companion(one, around, faults))] };
}

function signOf(found: CodeFound, vital: CodedSign['vital']): CodedSign {
  if (found.kind === 'sign') return found.sign;
  const method = found.kind === 'panel' ? found.method : undefined;
  return { vital, ...(method !== undefined && { method }) };
}

function refuseParts(parts: readonly SignComponent[], faults: Faults): void {
  for (const { path } of parts) {
    const text = `${path} is a part of a pressure, and the Observation is none.`;
    faults.refuse(path, 'code-invalid', text);
  }
}

function draftOf(
  { vital, part }: CodedSign,
  { value, asSent, doubts }: ReadValue,
  { method, place, position, doubts: unclear }: Circumstances,
  more: Pick<ReadingDraft, 'doubts' | 'notes'>,
): ReadingDraft {
  return {
    vital,
    ...(part !== undefined && { part }),
    ...(method !== undefined && { method }),
    ...(position !== undefined && { position }),
    place,
    value: value ?? {},
    ...(asSent !== undefined && { asSent }),
    doubts: [...new Set([...more.doubts, ...unclear, ...doubts])],
    notes: more.notes,
  };
}

/** A vital sign that stands in a component of another one's Observation, as the flow of oxygen may. */
function companion(one: SignComponent, around: Surroundings, faults: Faults): ReadingDraft[] {
  const { sign, found, component, path } = one;
  const value = readValue(sign.vital, 'value', component, `${path}.`, around, faults);
  if (value.value === null) return [];
  const circumstances = withCodes({ place: {}, doubts: [] }, [sign]);
  const notes = [
    `Sent as a component of another Observation: ${CATALOGUE[sign.vital].display}`,
    ...(sign.note === undefined ? [] : [sign.note]),
    ...describeMeasured(component, around.digits),
  ];
  return [draftOf(sign, value, circumstances, { doubts: found.doubts, notes })];
}
