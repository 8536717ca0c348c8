/** Who is who in a report: by their staff number for those who may see it, else under another name. */
import { createHmac, randomBytes } from 'node:crypto';
import type { Identifier } from '../../../vitals/identifier.js';
import { hasScope } from '../../auth/scopes.js';
import { HttpError } from '../../http/http-error.js';
import type { Caller } from '../../http/route.js';

/** Nobody keeps it, so that no list of staff can be tried against the pseudonyms of a printed report. */
const KEY = randomBytes(32);

/** Letters and digits that are not taken for each other. */
const SIGNS = '23456789ABCDEFGHJKLMNPQRSTUVWXYZ';
const LENGTH = 5;

export interface Person {
  readonly personId: string;
  readonly person: Identifier;
}

export type NamePerson = (person: Person) => string;

export function maySeePeople({ scopes }: Pick<Caller, 'scopes'>): boolean {
  return hasScope(scopes, 'people.read');
}

/**
 * Lets one person be asked for by those who may see people.
 * @throws HttpError 403
 */
export function checkPersonAsked(
  caller: Pick<Caller, 'scopes'>,
  { personId }: { readonly personId: string | undefined },
): void {
  if (personId === undefined || maySeePeople(caller)) return;
  throw new HttpError({ status: 403, detail: 'Figures of one person need the scope people.read.' });
}

/**
 * The same name for the same person throughout one report, which is the days that it is about: another one
 * for other days, and after a restart.
 */
export function namePeople(caller: Pick<Caller, 'scopes'>, report: string): NamePerson {
  if (maySeePeople(caller)) return ({ person }) => person.value;
  return ({ personId }) => {
    const digest = createHmac('sha256', KEY).update(`${report} ${personId}`).digest();
    const signs = [...digest.subarray(0, LENGTH)].map((byte) => SIGNS[byte % SIGNS.length]);
    return `Person ${signs.join('')}`;
  };
}
