/** The columns of what is taken out as a table. */
import type { ReviewReading } from '../../../store/review-readings.js';
import type { ListedUnreadRow } from '../../../store/unread-rows.js';
import { CATALOGUE } from '../../../vitals/catalogue.js';
import { writeMoment } from '../../pages/parts/moment.js';
import { enteredText } from '../../pages/parts/value-text.js';
import type { CsvColumn } from '../../pages/csv.js';
import { answerText, broughtText, kindText, refusalLines } from '../submissions/outcome.js';
import { reasonsOf } from './readings-list.js';
import type { Refusal } from './submissions-list.js';

/** Times stand as the site's clocks showed them, with their offset. */
export function readingColumns(zone: string): CsvColumn<ReviewReading>[] {
  const time = (atMs: number): string => writeMoment(atMs, zone, true);
  return [
    { head: 'rejected at', cell: ({ version }) => time(version.stampMs) },
    { head: 'taken at', cell: ({ version }) => time(version.takenAt.epochMs) },
    { head: 'received at', cell: ({ version }) => time(version.receivedAtMs) },
    { head: 'source', cell: ({ version }) => version.source },
    { head: 'device', cell: ({ version }) => version.device?.value ?? null },
    { head: 'device numbering', cell: ({ version }) => version.device?.system ?? null },
    { head: 'place', cell: ({ version }) => version.location },
    { head: 'patient', cell: ({ version }) => version.patient.identifier.value },
    { head: 'patient numbering', cell: ({ version }) => version.patient.identifier.system },
    { head: 'sign', cell: ({ version }) => version.vital },
    { head: 'method', cell: ({ version }) => version.method },
    { head: 'site', cell: ({ version }) => version.site },
    { head: 'value', cell: ({ version }) => version.values.value ?? version.code },
    { head: 'systolic', cell: ({ version }) => version.values.systolic ?? null },
    { head: 'diastolic', cell: ({ version }) => version.values.diastolic ?? null },
    { head: 'mean', cell: ({ version }) => version.values.mean ?? null },
    { head: 'unit', cell: ({ version }) => CATALOGUE[version.vital].unit },
    {
      head: 'as sent',
      cell: ({ version }) => enteredText(version.entered) ?? version.report?.asSent ?? null,
    },
    {
      head: 'rules',
      cell: ({ version }) =>
        reasonsOf(version.findings)
          .map(({ rule }) => rule)
          .join(' '),
    },
    {
      head: 'why',
      cell: ({ version }) =>
        reasonsOf(version.findings)
          .map(({ message }) => message)
          .join(' '),
    },
    { head: 'decided by a person', cell: ({ decided }) => (decided ? 'yes' : 'no') },
    { head: 'note', cell: ({ version }) => version.note },
    { head: 'reading', cell: ({ version }) => version.readingId },
    { head: 'version', cell: ({ version }) => version.version },
    { head: 'submission', cell: ({ version }) => version.submissionId },
    { head: 'edition', cell: ({ version }) => version.edition },
  ];
}

export function submissionColumns(zone: string): CsvColumn<Refusal>[] {
  return [
    { head: 'received at', cell: ({ facts }) => writeMoment(facts.receivedMs, zone, true) },
    { head: 'source', cell: ({ facts }) => facts.source },
    { head: 'what', cell: ({ facts, fate }) => kindText(facts, fate) },
    { head: 'control id', cell: ({ fate }) => fate?.message?.controlId ?? null },
    { head: 'answered', cell: ({ facts, fate }) => answerText(facts, fate) },
    { head: 'why', cell: ({ fate }) => (fate ? refusalLines(fate.answer).join(' ') : null) },
    { head: 'brought', cell: ({ fate }) => (fate ? broughtText(fate) : null) },
    { head: 'content type', cell: ({ facts }) => facts.contentType },
    { head: 'bytes', cell: ({ facts }) => facts.byteLength },
    { head: 'sha-256', cell: ({ facts }) => facts.sha256.toString('hex') },
    { head: 'submission', cell: ({ facts }) => facts.submissionId },
  ];
}

export function unreadColumns(zone: string): CsvColumn<ListedUnreadRow>[] {
  return [
    { head: 'received at', cell: ({ receivedMs }) => writeMoment(receivedMs, zone, true) },
    { head: 'source', cell: ({ source }) => source },
    { head: 'where', cell: ({ at }) => at },
    { head: 'code', cell: ({ code }) => code },
    { head: 'code system', cell: ({ codeSystem }) => codeSystem },
    { head: 'code name', cell: ({ codeName }) => codeName },
    { head: 'value as sent', cell: ({ value }) => value },
    { head: 'unit as sent', cell: ({ unit }) => unit },
    { head: 'reason', cell: ({ reason }) => reason },
    { head: 'why', cell: ({ message }) => message },
    { head: 'submission', cell: ({ submissionId }) => submissionId },
  ];
}
