/** What became of a submission, in words. */
import { z } from 'zod';
import type { ArrivalFate } from '../../../store/arrivals.js';
import type { SubmissionFacts } from '../../../store/review-submissions.js';

const Answer = z.object({
  detail: z.string().optional(),
  errors: z.array(z.object({ pointer: z.string(), message: z.string() })).optional(),
  issue: z
    .array(
      z.object({
        diagnostics: z.string().optional(),
        details: z.object({ text: z.string() }).optional(),
      }),
    )
    .optional(),
});

/** Faults that a list shows; the page of the submission has all. */
const SHOWN_FAULTS = 3;

/** Why it was refused, as its sender was told: the sentence, then the first faults. */
export function refusalLines(answer: Buffer): string[] {
  const read = Answer.safeParse(parse(answer));
  if (!read.success) return [];
  const { detail, errors = [], issue = [] } = read.data;
  const lines = [
    ...(detail === undefined ? [] : [detail]),
    ...errors.map(({ pointer, message }) => `${pointer} ${message}`.trim()),
    ...issue.map(({ diagnostics, details }) => diagnostics ?? details?.text ?? ''),
  ].filter((line) => line !== '');
  const more = lines.length - SHOWN_FAULTS - 1;
  return more > 0 ? [...lines.slice(0, SHOWN_FAULTS + 1), `and ${more} more`] : lines;
}

function parse(bytes: Buffer): unknown {
  try {
    return JSON.parse(bytes.toString());
  } catch {
    return null;
  }
}

/** `2 accepted, 1 rejected, 3 rows unread`; empty: it brought nothing. */
export function broughtText({
  readings,
  unreadRows,
}: Pick<ArrivalFate, 'readings' | 'unreadRows'>): string {
  const counts = Object.entries(readings)
    .filter(([, count]) => count > 0)
    .map(([verdict, count]) => `${count} ${verdict}`);
  const unread =
    unreadRows === 0 ? [] : [`${unreadRows} ${unreadRows === 1 ? 'row' : 'rows'} unread`];
  return [...counts, ...unread].join(', ');
}

/** What kind of thing arrived. */
export function kindText(
  { kind, contentType }: SubmissionFacts,
  fate: ArrivalFate | undefined,
): string {
  const message = fate?.message ?? null;
  if (message !== null) return `HL7 v2 ${message.type ?? 'message'}`;
  const form = contentType === 'application/fhir+json' ? 'FHIR' : 'JSON';
  switch (kind) {
    case 'decision':
      return 'decision';
    case 'reference-check':
      return 'reading against a known value';
    case 'message':
      return form === 'FHIR' ? 'FHIR without a set' : 'message without a set';
    case 'set':
      return form === 'FHIR' ? 'FHIR' : 'set';
  }
}

/** What its sender was answered. */
export function answerText({ status }: SubmissionFacts, fate: ArrivalFate | undefined): string {
  const message = fate?.message ?? null;
  if (message !== null) return message.acknowledged ?? 'no acknowledgement';
  return String(status);
}
