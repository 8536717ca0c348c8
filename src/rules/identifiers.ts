/** Compares what a sender says of a patient with what the register knows. */
import type { ClaimedPatient, JudgingContext, RegisteredPatient } from '../vitals/shapes.js';

/** `unknown`: not sent, or not registered. */
type Comparison = 'agrees' | 'differs' | 'unknown';

/** Dates agree as far as both are told: 1958-11 agrees with 1958-11-02. */
export function compareBirthDates(
  claimed: ClaimedPatient,
  registered: RegisteredPatient,
): Comparison {
  const ours = registered.birthDate;
  const theirs = claimed.birthDate;
  if (ours === null || theirs === undefined) return 'unknown';
  const told = Math.min(ours.length, theirs.length);
  return ours.slice(0, told) === theirs.slice(0, told) ? 'agrees' : 'differs';
}

/** Names agree whatever their case, accents, blanks and punctuation. */
export function compareFamilyNames(
  claimed: ClaimedPatient,
  registered: RegisteredPatient,
): Comparison {
  if (claimed.familyName === undefined || registered.familyName === null) return 'unknown';
  if (claimed.familyName === registered.familyName) return 'agrees';
  const ours = foldName(registered.familyName);
  const theirs = foldName(claimed.familyName);
  if (ours === '' || theirs === '') return 'unknown';
  return ours === theirs ? 'agrees' : 'differs';
}

/** Letters that Unicode does not take apart into a letter and an accent. */
const PLAIN_LETTERS: Readonly<Record<string, string>> = {
  Æ: 'AE',
  Œ: 'OE',
  Ø: 'O',
  Ł: 'L',
  Đ: 'D',
  Ð: 'D',
  Þ: 'TH',
};

/** Upper case turns ß into SS; compatibility decomposition takes accents and ligatures off. */
function foldName(name: string): string {
  return name
    .normalize('NFKD')
    .toUpperCase()
    .replace(/[^\p{L}]/gu, '')
    .replace(/[ÆŒØŁĐÐÞ]/g, (letter) => PLAIN_LETTERS[letter] ?? letter);
}

/** Birth date and family name together: one that differs outweighs one that agrees. */
export function compareSecondIdentifiers(
  claimed: ClaimedPatient,
  registered: RegisteredPatient,
): Comparison {
  const both = [compareBirthDates(claimed, registered), compareFamilyNames(claimed, registered)];
  if (both.includes('differs')) return 'differs';
  return both.includes('agrees') ? 'agrees' : 'unknown';
}

/**
 * Whether a registered patient was named by one identifier alone: no second one was sent, or the
 * register has nothing to hold it against. Whoever gave a device to a patient did not do so by a number
 * in a message.
 */
export function isIdentifiedOnce({ patient, set }: JudgingContext): boolean {
  return (
    patient !== null &&
    set.claim?.by !== 'association' &&
    compareSecondIdentifiers(set.patient, patient) === 'unknown'
  );
}
