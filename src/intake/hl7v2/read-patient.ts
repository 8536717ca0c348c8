import type { IdentityDoubt } from '../../vitals/device-report.js';
import type { DeliveredPatient, Identifier } from '../../vitals/shapes.js';
import type { PatientGroup } from './group-segments.js';
import { NO_AUTHORITY, usableText, type IdentifierReader } from './identifiers.js';
import { readWrittenTime } from './read-time.js';
import type { Hl7Field, Hl7Repetition, Hl7Segment } from './segment.js';

/** HL7 table 0203: numbers of accounts and visits, which do not name a person. */
const NOT_OF_A_PERSON: ReadonlySet<string> = new Set(['AN', 'ANC', 'AND', 'ANT', 'VN']);
/** Which of several identifiers comes first: those that the IHE profiles ask for. */
const PREFERRED_TYPES = ['MR', 'PI', 'PT', ''];
const MAX_IDENTIFIERS = 20;
const MAX_NAME_CHARACTERS = 100;
const MAX_LOCATION_CHARACTERS = 200;

/** Who a list of CX names. */
export interface NamedPatient {
  readonly identifier: Identifier;
  readonly others: readonly Identifier[];
  readonly doubts: readonly IdentityDoubt[];
}

/** Reads PID-3 or MRG-1. Null: it names nobody. */
export function readPatientIds(
  field: Hl7Field,
  identifiers: IdentifierReader,
): NamedPatient | null {
  const ids = field.repetitions
    .slice(0, MAX_IDENTIFIERS)
    .map((cx) => identifiers.patientId(cx))
    .filter((id) => id !== null)
    .filter(({ type }) => !NOT_OF_A_PERSON.has(type));
  const rank = (type: string) => {
    const at = PREFERRED_TYPES.indexOf(type);
    return at < 0 ? PREFERRED_TYPES.length : at;
  };
  // An identifier whose authority is known comes before one that could be anybody's.
  const sorted = [...ids].sort(
    (one, other) =>
      Number(one.system === null) - Number(other.system === null) ||
      rank(one.type) - rank(other.type),
  );
  const named = distinct(
    sorted.map(({ system, value }) => ({ system: system ?? NO_AUTHORITY, value })),
  );
  const [identifier, ...others] = named;
  if (identifier === undefined) return null;
  const doubts: IdentityDoubt[] = [];
  if (sorted[0]?.system === null) doubts.push('authority-missing');
  if (contradicts(ids)) doubts.push('identifiers-conflict');
  return { identifier, others: others.filter(({ system }) => system !== NO_AUTHORITY), doubts };
}

function distinct(ids: readonly Identifier[]): readonly Identifier[] {
  return ids.filter(
    ({ system, value }, at) =>
      ids.findIndex((other) => other.system === system && other.value === value) === at,
  );
}

/** One authority gives a person one number of a kind. */
function contradicts(
  ids: readonly { readonly system: string | null; readonly value: string; readonly type: string }[],
): boolean {
  return ids.some((one) =>
    ids.some(
      (other) =>
        one.system === other.system && one.type === other.type && one.value !== other.value,
    ),
  );
}

/**
 * The patient of a group; null: none is named.
 * @param onlyIds the characters of the message are broken: names and dates in it cannot be trusted
 */
export function readPatient(
  { pid, isContested }: Pick<PatientGroup, 'pid' | 'isContested'>,
  identifiers: IdentifierReader,
  onlyIds: boolean,
): DeliveredPatient | null {
  if (pid === null) return null;
  const named = readPatientIds(pid.field(3), identifiers);
  if (named === null) return null;
  const familyName = onlyIds ? undefined : readLegalName(pid.field(5))?.family;
  const birthDate = onlyIds ? undefined : readDate(pid.text(7));
  const doubts = new Set(named.doubts);
  if (isUnknown(pid)) doubts.add('identity-declared-unknown');
  if (isContested) doubts.add('identifiers-conflict');
  return {
    identifier: named.identifier,
    ...(birthDate !== undefined && { birthDate }),
    ...(familyName !== undefined && { familyName }),
    ...(named.others.length > 0 && { others: named.others }),
    ...(doubts.size > 0 && { doubts: [...doubts] }),
  };
}

/** PID-31: the sender does not know who this is. */
export function isUnknown(pid: Hl7Segment): boolean {
  return pid.text(31).trim().toUpperCase() === 'Y';
}

/** The legal name of an XPN list, or one of no stated type (HL7 table 0200). */
export function readLegalName(
  field: Hl7Field,
): { readonly family?: string; readonly given: readonly string[] } | null {
  const names = field.repetitions.slice(0, MAX_IDENTIFIERS);
  const typeOf = (name: Hl7Repetition) => name.component(7).text.trim().toUpperCase();
  const legal =
    names.find((name) => typeOf(name) === 'L') ?? names.find((name) => typeOf(name) === '');
  if (legal === undefined) return null;
  const family = nameText(legal.component(1).text);
  const given = [legal.component(2).text, ...legal.component(3).text.split(' ')]
    .map(nameText)
    .filter((name) => name !== undefined);
  return { ...(family !== undefined && { family }), given };
}

function nameText(text: string): string | undefined {
  const usable = usableText(text);
  return usable === null || usable.length > MAX_NAME_CHARACTERS ? undefined : usable;
}

/** A date as it was written, as far as it was: a time of birth and its zone change no day. */
export function readDate(text: string): string | undefined {
  const written = readWrittenTime(text.trim());
  if (written.kind === 'fault') return undefined;
  const two = (part: number) => String(part).padStart(2, '0');
  const year = String(written.year).padStart(4, '0');
  if (written.precision === 'year') return year;
  if (written.precision === 'month') return `${year}-${two(written.month)}`;
  return `${year}-${two(written.month)}-${two(written.day)}`;
}

/** A place as a path: unit, room and bed of a PL, as far as told. */
export function readLocation(pl: Hl7Repetition): string | undefined {
  const parts = [1, 2, 3]
    .map((n) => usableText(pl.component(n).text))
    .filter((part) => part !== null);
  return parts.length === 0 ? undefined : parts.join('/').slice(0, MAX_LOCATION_CHARACTERS);
}
