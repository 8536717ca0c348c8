import type { Annotation, Identifier as FhirIdentifier } from 'fhir/r4.js';
import { latenessMs } from '../../vitals/late-arrival.js';
import type { Entered, ReadingContext, ReadingVersion } from '../../vitals/shapes.js';
import type { CuffSize } from '../../vitals/words.js';

/** Author of what the gateway itself says, so that no sender's remark can pass for a finding. */
const GATEWAY = 'Vital-sign gateway';

/**
 * Space that FHIR R4 does not count as such (`string` is `[ \r\n\t\S]+`), such as the no-break space: the
 * official JSON Schema, run by a JavaScript engine, refuses it.
 */
const FOREIGN_SPACE = /[^\S \r\n\t]/g;

const CUFFS: Readonly<Record<CuffSize, string>> = {
  infant: 'infant',
  child: 'child',
  'small-adult': 'small adult',
  adult: 'adult',
  'large-adult': 'large adult',
  thigh: 'thigh',
};

/** The notes of an Observation: value as entered, circumstances, findings, the sender's remark. */
export function renderNotes(version: ReadingVersion): Annotation[] {
  const notes = [
    ...(version.entered === null ? [] : [describeEntered(version.entered)]),
    ...describeContext(version.context),
    ...describeDoubts(version),
  ].map(gatewayNote);
  if (version.note !== null && version.note.trim() !== '') {
    notes.push({ ...renderAuthor(version.recorder), text: plainSpace(version.note) });
  }
  return notes;
}

/** The notes of what was calculated from a version: how, and what is to be known of where it came from. */
export function renderDerivedNotes(version: ReadingVersion, how: string): Annotation[] {
  return [how, ...describeDoubts(version)].map(gatewayNote);
}

export function gatewayNote(text: string): Annotation {
  return { authorString: GATEWAY, text: plainSpace(text) };
}

function describeDoubts(version: ReadingVersion): string[] {
  return [
    ...describeLateness(version),
    ...describeDeviceTime(version),
    ...version.findings.map((finding) => finding.message),
  ];
}

function plainSpace(text: string): string {
  return text.replace(FOREIGN_SPACE, ' ');
}

function renderAuthor(recorder: FhirIdentifier | null): Partial<Annotation> {
  if (recorder === null) return {};
  return { authorReference: { type: 'Practitioner', identifier: recorder } };
}

export function describeLateness({
  receivedAtMs,
  takenAt,
}: Pick<ReadingVersion, 'receivedAtMs' | 'takenAt'>): string[] {
  const delayMs = latenessMs(receivedAtMs, takenAt.epochMs);
  if (delayMs === null) return [];
  const hours = Math.floor(delayMs / 3_600_000);
  const delay = hours < 48 ? `${String(hours)} hours` : `${String(Math.floor(hours / 24))} days`;
  return [
    `Late: this arrived ${delay} after it was taken. It tells how the patient was then, not now.`,
  ];
}

/**
 * FHIR R4 has no element for what a device's own clock showed; the Personal Health Device guide keeps it in
 * an Observation of its own. Whoever reads this one reads it in a note.
 */
function describeDeviceTime({ report }: ReadingVersion): string[] {
  return report?.deviceTime === undefined
    ? []
    : [`The clock of the device showed ${report.deviceTime}.`];
}

function describeEntered(entered: Entered): string {
  if ('count' in entered) {
    return `Counted ${String(entered.count)} in ${String(entered.seconds)} s`;
  }
  if ('value' in entered) return `Entered as ${entered.value} ${entered.unit}`;
  const parts = (['systolic', 'diastolic', 'mean'] as const).flatMap((part) => {
    const text = entered[part];
    return text === undefined ? [] : [`${part} ${text}`];
  });
  return `Entered as ${parts.join(', ')} ${entered.unit}`;
}

/** One sentence a fact, as one note; none when nothing was told. */
function describeContext(context: ReadingContext): string[] {
  const facts = [
    fact(context.confirmed, (yes) => yes && 'Measured again by a person'),
    fact(context.regular, (yes) => (yes ? 'Rhythm regular' : 'Rhythm irregular')),
    fact(context.cuffSize, (size) => `Cuff size: ${CUFFS[size]}`),
    fact(context.armCircumferenceCm, (cm) => `Arm circumference: ${String(cm)} cm`),
    fact(context.armAtHeartLevel, (yes) => (yes ? 'Arm at heart level' : 'Arm not at heart level')),
    fact(context.inflatedTo, (mmHg) => `Cuff inflated to ${String(mmHg)} mmHg`),
    fact(context.minutesSinceHotDrink, (min) => `Hot drink ${String(min)} min before`),
    fact(context.minutesSinceColdDrink, (min) => `Cold drink ${String(min)} min before`),
  ].filter((text) => text !== false);
  return facts.length === 0 ? [] : [facts.join('. ')];
}

function fact<T>(told: T | undefined, words: (told: T) => string | false): string | false {
  return told === undefined ? false : words(told);
}
