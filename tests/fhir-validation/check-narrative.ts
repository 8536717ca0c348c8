/**
 * FHIR R4 §2.4 (narrative), invariants txt-1 and txt-2: an XHTML `div` of inert formatting elements,
 * well formed, with something to read in it. Only the subset that the gateway needs is let pass.
 */
const TAG = /<(\/?)([a-z]+)((?: [a-z:]+="[^"<]*")*)>/g;
const INERT = new Set(['div', 'p', 'b', 'br', 'ul', 'li', 'span', 'table', 'tr', 'td']);
const ENTITY = /&(?!(?:amp|lt|gt|quot|apos|#[0-9]+|#x[0-9a-fA-F]+);)/;
/** XML 1.0 §2.2, `Char`, as what is outside of it. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const NOT_XML = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/;

/** What is wrong with the `div` of a narrative, a line each. */
export function narrativeFaults(div: string): string[] {
  const faults: string[] = [];
  const open: string[] = [];
  for (const [, slash, name = '', attributes = ''] of div.matchAll(TAG)) {
    if (!INERT.has(name)) faults.push(`element ${name}`);
    if (/ on[a-z]+=|javascript:/.test(attributes)) faults.push(`active attribute on ${name}`);
    if (slash !== '/') open.push(name);
    else if (open.pop() !== name) faults.push(`</${name}> closes nothing`);
  }
  const text = div.replace(TAG, '');
  if (!/^<div xmlns="http:\/\/www\.w3\.org\/1999\/xhtml"[ >]/.test(div))
    faults.push('no XHTML div');
  if (!div.endsWith('</div>') || open.length > 0) faults.push('not closed');
  if (text.includes('<')) faults.push('bare <');
  if (ENTITY.test(text)) faults.push('bare &');
  if (NOT_XML.test(div)) faults.push('character that XML forbids');
  if (text.trim() === '') faults.push('nothing to read (txt-2)');
  return faults.map((fault) => `narrative: ${fault}`);
}
