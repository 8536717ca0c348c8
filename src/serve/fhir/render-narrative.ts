import type { Narrative } from 'fhir/r4.js';

/** Markup, and the characters that XML 1.0 §2.2 forbids altogether. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const UNSAFE = /[&<>"\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g;

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
};

/** A generated narrative (FHIR R4 §2.4): one paragraph for each sentence, whatever is in it as inert text. */
export function renderNarrative(sentences: readonly string[]): Narrative {
  const paragraphs = sentences.map((sentence) => `<p>${escapeText(sentence)}</p>`).join('');
  return {
    status: 'generated',
    div: `<div xmlns="http://www.w3.org/1999/xhtml">${paragraphs}</div>`,
  };
}

function escapeText(text: string): string {
  return text.replace(UNSAFE, (character) => ENTITIES[character] ?? '\ufffd');
}
