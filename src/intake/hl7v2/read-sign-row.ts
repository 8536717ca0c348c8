import type { CodedSign } from '../../vitals/coded-sign.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { PlacedRow } from './containment.js';
import type { OrderScope } from './order-scope.js';
import {
  manualMethod,
  readFlags,
  readNature,
  readStatus,
  speaksOfEarlier,
  type RowFlags,
  type RowStatus,
} from './read-flags.js';
import { joinPlaces } from './read-site.js';
import type { StatusMark, StatusMarks } from './read-status-rows.js';
import { readValue, type RowValue } from './read-value.js';
import type { RowOutcome, RowReading } from './row-reading.js';
import { unreadRow } from './unread-row.js';

/** What one row says, field by field. */
interface SignFacts {
  readonly row: PlacedRow;
  /** With the method of a person, where one measured. */
  readonly sign: CodedSign;
  readonly value: RowValue;
  readonly status: RowStatus;
  readonly flags: RowFlags;
  readonly isSetting: boolean;
  /** What status rows say of it. */
  readonly said: readonly StatusMark[];
  readonly recorder: Identifier | null;
}

/** Reads an OBX that stands for a sign. */
export function readSignRow(
  row: PlacedRow,
  sign: CodedSign,
  scope: OrderScope,
  marks: StatusMarks,
): RowOutcome {
  const facts = factsOf(row, sign, scope, marks);
  const absence = whyNoValue(facts);
  return absence === null
    ? { kind: 'reading', reading: readingOf(facts, scope) }
    : unreadRow(row, scope, facts.recorder, { reason: 'no-value', message: absence });
}

function factsOf(
  row: PlacedRow,
  sign: CodedSign,
  scope: OrderScope,
  marks: StatusMarks,
): SignFacts {
  const { obx } = row;
  const operator = scope.operatorOf(row);
  const nature = readNature(obx);
  const method = nature === 'manual' ? manualMethod(sign) : sign.method;
  return {
    row,
    sign: method === undefined ? sign : { ...sign, method },
    value: readValue(obx, sign.vital),
    status: readStatus(obx, operator.named, scope.message.profile.attended),
    flags: readFlags(obx),
    isSetting: nature === 'setting',
    said: marks.of(row, sign),
    recorder: operator.identifier,
  };
}

/** In a sentence; null: there is a value, or the row needs none. */
function whyNoValue({ row, flags, said, value }: SignFacts): string | null {
  if (speaksOfEarlier(row.obx)) return null;
  if (flags.absent !== null) return `No value: ${flags.absent}.`;
  if (said.some(({ invalid }) => invalid)) return 'No value: the device calls it invalid.';
  return value.kind === 'none' ? 'The row has no value.' : null;
}

function readingOf(facts: SignFacts, scope: OrderScope): RowReading {
  const { row, sign, value, status, flags, said, recorder } = facts;
  const place = joinPlaces(sign, scope.placesOf(row));
  const time = scope.timeOf(row);
  const isNumber = value.kind === 'number' || value.kind === 'odd-number';
  const unit = isNumber ? scope.message.unitOf(row.obx.field(6)) : null;
  const doubts = new Set<ReportDoubt>([
    ...row.found.doubts,
    ...(sign.doubts ?? []),
    ...(unit?.doubts ?? []),
    ...time.doubts,
    ...ownDoubts(facts, scope),
  ]);
  if (place.isUnclear) doubts.add('site-unclear');
  return {
    row,
    status: status.kind === 'amending' ? status.status : 'standing',
    sign,
    ...valueOf(value),
    ...(unit?.unit !== undefined && { unit: unit.unit }),
    place,
    devices: scope.devicesOf(row),
    time,
    recorder,
    reviewed: isReviewed(status),
    doubts: [...doubts],
    signal: [...new Set([...flags.signal, ...said.flatMap((mark) => mark.signal)])],
    notes: notesOf([sign.note, place.note], time.asSent, value),
  };
}

function ownDoubts(facts: SignFacts, scope: OrderScope): readonly ReportDoubt[] {
  const { row, value, status, flags, said, isSetting } = facts;
  const { test, broken } = scope.message;
  const doubts: ReportDoubt[] = [];
  const isTest = test || flags.test || said.some((mark) => mark.test) || scope.isTested(row);
  if (isTest) doubts.push('test-data');
  if (isSetting) doubts.push('setting-not-measurement');
  if (value.kind === 'unreadable') doubts.push('value-unreadable');
  if (value.kind === 'odd-number') doubts.push('value-not-plain');
  // A status that is none, and X, which says that there is no value, beside a value.
  const isUnclear = status.kind === 'no-result' || status.kind === 'unclear';
  if (isUnclear) doubts.push('status-unclear');
  if (broken) doubts.push('character-set-broken');
  return doubts;
}

/** A correction replaces what was final (HL7 table 0085). */
function isReviewed(status: RowStatus): boolean {
  return status.kind === 'standing' ? status.reviewed : status.kind === 'amending';
}

function valueOf(value: RowValue): Pick<RowReading, 'value' | 'code' | 'asSent'> {
  switch (value.kind) {
    case 'number':
      return { value: value.text };
    case 'odd-number':
      return { value: value.text, asSent: value.asSent };
    case 'code':
      return { code: value.code };
    case 'unreadable':
      return { asSent: value.asSent };
    case 'none':
      return {};
  }
}

function notesOf(
  told: readonly (string | undefined)[],
  time: string | undefined,
  value: RowValue,
): readonly string[] {
  const notes = told.filter((note) => note !== undefined);
  if (time !== undefined) notes.push(`Time as sent: ${time}`);
  if (value.kind === 'odd-number') notes.push(`Value as sent: ${value.asSent}`);
  return notes;
}
