/** Splits text into segments. Line feeds that end one are taken along; empty segments are left out. */
export function splitSegments(text: string, fieldSeparator: string): readonly string[] {
  const end = text.includes('\r') ? endBeside(fieldSeparator) : /\n+/;
  return text.split(end).filter((segment) => segment !== '');
}

/**
 * CR ends a segment, always (HL7 v2.9.1 §2.4.4), and an LF after it goes with it. Where a message has
 * CR at all, an LF alone ends a segment only when what follows looks like one, so that two patients
 * never run together; else it is a line break in a text, which the sender ought to have escaped. A
 * message without any CR is taken to use LF throughout.
 */
function endBeside(fieldSeparator: string): RegExp {
  const separator = `\\u${fieldSeparator.charCodeAt(0).toString(16).padStart(4, '0')}`;
  return new RegExp(
    String.raw`\r\n?|\n+(?=\s*[A-Za-z][A-Za-z0-9]{2}(?:${separator}|[\r\n]|$)|[\r\n]|$)`,
  );
}
