/** Who and what took part, as PRT segments tell (HL7 v2.9.1 §7.4.4; pre-adopted by the IHE device profiles). */
import type { Identifier } from '../../vitals/shapes.js';
import type { IdentifierReader } from './identifiers.js';
import type { Hl7Segment } from './segment.js';

/** HL7 table 0912: author, responsible observer. */
const OPERATORS: ReadonlySet<string> = new Set(['AUT', 'RO']);
const MAX_EQUIPMENT = 8;

/** Who measured, or stood by. `named` also where only words name a person. */
export interface Operator {
  readonly named: boolean;
  readonly identifier: Identifier | null;
}

export const NOBODY: Operator = { named: false, identifier: null };

function roleOf(prt: Hl7Segment): string {
  return prt.text(4).trim().toUpperCase();
}

export function isEquipment(prt: Hl7Segment): boolean {
  return roleOf(prt) === 'EQUIP';
}

/** The equipment among participations: PRT-10. */
export function equipmentIn(
  participations: readonly Hl7Segment[],
  identifiers: IdentifierReader,
): readonly Identifier[] {
  return participations
    .filter(isEquipment)
    .slice(0, MAX_EQUIPMENT)
    .map((prt) => identifiers.device(prt.field(10).repetition(1)))
    .filter((device) => device !== null);
}

/** The operator among participations: PRT-5. */
export function operatorIn(
  participations: readonly Hl7Segment[],
  identifiers: IdentifierReader,
): Operator {
  const prt = participations.find((one) => OPERATORS.has(roleOf(one)));
  return prt === undefined ? NOBODY : operatorOf(prt, 5, identifiers);
}

/** The operator in a field of XCN. */
export function operatorOf(
  segment: Hl7Segment,
  field: number,
  identifiers: IdentifierReader,
): Operator {
  const xcns = segment.field(field);
  if (xcns.isEmpty) return NOBODY;
  const xcn = xcns.repetition(1);
  const named = xcn.components.some(({ isEmpty, isDeletion }) => !isEmpty && !isDeletion);
  return named ? { named, identifier: identifiers.person(xcn) } : NOBODY;
}

/** OBX-18: the device first, then what it is a part of (IHE Devices TF-2, B.8). */
export function equipmentOf(obx: Hl7Segment, identifiers: IdentifierReader): readonly Identifier[] {
  const field = obx.field(18);
  if (field.isEmpty) return [];
  return field.repetitions
    .slice(0, MAX_EQUIPMENT)
    .map((ei) => identifiers.device(ei))
    .filter((device) => device !== null);
}
