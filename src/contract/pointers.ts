/** The pointer of a member (RFC 6901 §3: ~ and / are escaped). */
export function pointerTo(owner: string, member: string): string {
  return `${owner}/${member.replaceAll('~', '~0').replaceAll('/', '~1')}`;
}

/** The pointer of the object that holds what the pointer points to. */
export function parentOf(pointer: string): string {
  return pointer.slice(0, pointer.lastIndexOf('/'));
}

/** The value at a pointer whose members are all there; undefined otherwise. */
export function valueAt(root: unknown, pointer: string): unknown {
  let value = root;
  for (const token of pointer.split('/').slice(1)) {
    if (typeof value !== 'object' || value === null) return undefined;
    value = (value as Record<string, unknown>)[token.replaceAll('~1', '/').replaceAll('~0', '~')];
  }
  return value;
}

/** A member name or value as a person sees it, cut where it would drown the sentence. */
export function quoted(text: string): string {
  return `"${text.length > 60 ? `${text.slice(0, 60)}…` : text}"`;
}
