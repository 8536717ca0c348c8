/** HTML put together from pieces, each text in it escaped: what is not marked as HTML cannot become any. */
export class Html {
  readonly text: string;

  constructor(text: string) {
    this.text = text;
  }
}

type Piece = string | number | Html | readonly Html[] | null;

const ESCAPES: Readonly<Record<string, string>> = {
  ...{ '&': '&amp;', '<': '&lt;', '>': '&gt;' },
  ...{ '"': '&quot;', "'": '&#39;' },
};

function toText(piece: Piece): string {
  if (piece === null) return '';
  if (piece instanceof Html) return piece.text;
  if (typeof piece === 'object') return piece.map(({ text }) => text).join('');
  return String(piece).replace(/[&<>"']/g, (character) => ESCAPES[character] ?? '');
}

/** A template of HTML: what stands between its parts is escaped, unless it is HTML already; null is nothing. */
export function html(parts: TemplateStringsArray, ...pieces: readonly Piece[]): Html {
  return new Html(
    parts.map((part, i) => part + (i < pieces.length ? toText(pieces[i] ?? null) : '')).join(''),
  );
}

/** A sentence in which words between backticks are code. */
export function prose(sentence: string): Html {
  const parts = sentence.split('`');
  // An odd number of backticks is a sentence that means one as such.
  if (parts.length % 2 === 0) return html`${sentence}`;
  const pieces = parts.map((part, i) => (i % 2 === 1 ? html`<code>${part}</code>` : html`${part}`));
  return html`${pieces}`;
}
