/**
 * Wards as Groups: the id of a Group is the path of a place, written in the characters that a FHIR id may
 * have (R4 `id`: letters, digits, hyphen and dot, 64 at most). Whoever knows the ward knows the id.
 */
import type { Bundle, Group } from 'fhir/r4.js';
import type { Ward } from '../../store/find-wards.js';

const MAX_ID = 64;
const PLAIN = /^[A-Za-z0-9-]$/;
const ID = /^(?:[A-Za-z0-9-]|\.[0-9a-f]{2})+$/;

/** Each byte that is no letter, digit or hyphen becomes a dot and two hexadecimal digits; null: too long. */
export function groupIdOf(path: string): string | null {
  const id = Array.from(Buffer.from(path), (byte) => {
    const character = String.fromCharCode(byte);
    return PLAIN.test(character) ? character : `.${byte.toString(16).padStart(2, '0')}`;
  }).join('');
  return id.length > MAX_ID ? null : id;
}

/** The path of a place; null: no Group has such an id. */
export function pathOfGroup(id: string): string | null {
  if (id.length > MAX_ID || !ID.test(id)) return null;
  const bytes = id.replace(/\.(..)|(.)/g, (_, hex: string | undefined, plain: string) =>
    hex === undefined ? plain : String.fromCharCode(Number.parseInt(hex, 16)),
  );
  const path = Buffer.from(bytes, 'latin1').toString('utf8');
  // Only the one way in which it is written here; and no zero byte for the database to choke on.
  return groupIdOf(path) === id && !path.includes('\u0000') ? path : null;
}

export function renderWard({ path, patients }: Ward, id: string): Group {
  return {
    resourceType: 'Group',
    id,
    type: 'person',
    actual: true,
    name: path,
    quantity: patients,
  };
}

/** The wards in which somebody is, as a searchset. */
export function renderWards(wards: readonly Ward[], baseUrl: string): Bundle<Group> {
  const entry = wards.flatMap((ward) => {
    const id = groupIdOf(ward.path);
    if (id === null) return [];
    const fullUrl = `${baseUrl}/Group/${id}`;
    return [{ fullUrl, resource: renderWard(ward, id), search: { mode: 'match' as const } }];
  });
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    total: entry.length,
    link: [{ relation: 'self', url: `${baseUrl}/Group` }],
    ...(entry.length === 0 ? {} : { entry }),
  };
}
