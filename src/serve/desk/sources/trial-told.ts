/** What a trial of a message tells, as far as its page shows it in tables. */
import { z } from 'zod';

/** Absent or null: nothing is told. */
const words = z
  .string()
  .nullish()
  .transform((text) => text ?? null);
const Identifier = z.object({ system: z.string(), value: z.string() });

/** A path, or a place in an HL7 v2 message. */
const Place = z.union([
  z.string(),
  z.object({
    segment: z.string(),
    occurrence: z.number(),
    field: z.number().optional(),
    component: z.number().optional(),
  }),
]);

/** `MSH-12`; of the third segment of its name, `OBX (3)-5.1`. */
export function placeText(place: z.output<typeof Place> | null): string {
  if (place === null || place === '') return 'the whole';
  if (typeof place === 'string') return place;
  const { segment, occurrence, field, component } = place;
  const name = occurrence === 1 ? segment : `${segment} (${occurrence})`;
  if (field === undefined) return name;
  return component === undefined ? `${name}-${field}` : `${name}-${field}.${component}`;
}

const Fault = z.object({
  at: Place.nullish().transform((place) => place ?? null),
  code: words,
  severity: words,
  message: z.string(),
});

const Understood = z.object({
  index: z.number(),
  at: words,
  vital: z.string(),
  method: words,
  site: words,
  side: words,
  device: Identifier.nullable(),
  takenAt: z.string(),
  doubts: z.array(z.string()).default([]),
  signal: z.array(z.string()).default([]),
});

const Answered = z.object({
  index: z.number(),
  verdict: z.string(),
  value: z.number().optional(),
  systolic: z.number().optional(),
  diastolic: z.number().optional(),
  mean: z.number().optional(),
  unit: words,
  code: words,
  absent: words,
});
export type Answered = z.output<typeof Answered>;

const Found = z.object({
  rule: z.string(),
  verdict: z.string(),
  readings: z.array(z.number()),
  message: z.string(),
  advice: words,
});

const Unread = z.object({
  at: z.string(),
  reason: z.string(),
  message: z.string(),
  code: z
    .object({ system: words, code: z.string(), name: words })
    .nullish()
    .transform((code) => code ?? null),
  unit: words,
  value: words,
});

const TriedSet = z.object({
  patient: z.object({ identifier: Identifier, registered: z.boolean() }).nullable(),
  patientBy: z.string(),
  understood: z.array(Understood),
  readings: z.array(Answered),
  findings: z.array(Found),
  unread: z.array(Unread).default([]),
});
export type TriedSet = z.output<typeof TriedSet>;

/** What a trial tells, as far as the page shows it in tables; all of it stands below as JSON. */
export const Told = z.object({
  kind: z.string(),
  brings: words,
  acknowledgement: words,
  characterSet: words,
  faults: z.array(Fault),
  sets: z.array(TriedSet),
});
export type Told = z.output<typeof Told>;
