/** Forms of values that several configuration variables share. */
import { z } from 'zod';
import { isLoopbackHost } from '../outside/addresses.js';

export const wholeNumber = (min: number, max: number) =>
  z.string().regex(/^\d+$/).transform(Number).pipe(z.number().min(min).max(max));

export function isPublicUrl(text: string): boolean {
  if (!URL.canParse(text) || /[?#]/.test(text)) return false;
  const { protocol, username, password } = new URL(text);
  return /^https?:$/.test(protocol) && username === '' && password === '';
}

/** Loopback without TLS is for trials on one machine. */
export function isIssuerUrl(text: string): boolean {
  if (!isPublicUrl(text)) return false;
  const { protocol, hostname } = new URL(text);
  return protocol === 'https:' || isLoopbackHost(hostname.replace(/^\[(.*)\]$/, '$1'));
}
