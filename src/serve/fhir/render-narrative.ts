import type { Narrative } from 'fhir/r4.js';

/**
 * Markup, the characters that XML 1.0 §2.2 forbids altogether, and those by which a text shows in an
 * order that is not its own (UAX #9 §2: embeddings, overrides, isolates): "120" could read "021".
 */
const UNSAFE =
  // eslint-disable-next-line no-control-regex -- control characters are what has to be caught
  /[&<>"\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff\u202a-\u202e\u2066-\u2069]/g;

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
};

/**
 * A generated narrative (FHIR R4 §2.4): one paragraph for each sentence, whatever is in it as inert text.
 * The sentences are English, which has to be said where the resource may claim another language.
 */
export function renderNarrative(sentences: readonly string[], lang?: 'en'): Narrative {
  const paragraphs = sentences.map((sentence) => `<p>${escapeText(sentence)}</p>`).join('');
  const attributes = lang === undefined ? '' : ` lang="${lang}" xml:lang="${lang}"`;
  return {
    status: 'generated',
    div: `<div xmlns="http://www.w3.org/1999/xhtml"${attributes}>${paragraphs}</div>`,
  };
}

function escapeText(text: string): string {
  return text.replace(UNSAFE, (character) => ENTITIES[character] ?? '\ufffd');
}
