import type { Request } from 'express';
import type { Pool } from '../../store/pool.js';
import type { WallTime } from '../../vitals/zone-time.js';

/** What the FHIR handlers work with. */
export interface FhirSite {
  readonly pool: Pool;
  /** Base of the FHIR side, absolute and without a slash at its end. */
  readonly baseUrl: string;
  /** The moment at which the site's clocks show a wall time. */
  readonly siteMs: (wall: WallTime) => number;
  /** Told of every registration once it is committed, so that held readings can be judged again. */
  readonly onRegistered: (patientKey: number) => void;
}

const UUID = /^[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;

/** Whether a text can be one of our ids: lower-case UUIDs, compared as they are (R4: ids are case-sensitive). */
export function isId(text: string): boolean {
  return UUID.test(text);
}

const VERSION_ID = /^[1-9]\d{0,4}$/;
/** As far as the version columns go. */
export const MAX_VERSION = 32_767;

/** A version id as the number that it is here; null: it cannot be one of ours. */
export function readVersionId(text: string): number | null {
  const version = Number(text);
  return VERSION_ID.test(text) && version <= MAX_VERSION ? version : null;
}

/** Whether the path names version 1, or none: the only one there is of what never changes. */
export function asksForFirst({ params: { vid } }: Request): boolean {
  return vid === undefined || vid === '1';
}
