/** Where references lead (FHIR R4: Resource References; Bundle, "Resolving references in Bundles"). */
import type { Identifier } from '../../vitals/shapes.js';
import { IDENTIFIER_RULE, readIdentifier } from './identifiers.js';
import {
  asList,
  asObject,
  asText,
  type Json,
  type SentEntry,
  type Surroundings,
} from './sent-entry.js';

/** A reference as it stands in a resource. */
export interface SentReference {
  readonly reference?: string | undefined;
  readonly type?: string | undefined;
  readonly identifier?: { readonly system?: string; readonly value?: string } | undefined;
  readonly display?: string | undefined;
}

/** The resource in which a reference stands. */
export interface Home {
  readonly entry: SentEntry;
  /** Its contained resources by id. */
  readonly contained: ReadonlyMap<string, Json>;
}

export type Located =
  /** A resource that was sent along. */
  | { readonly in: 'delivery'; readonly resource: Json; readonly home: Home }
  /** A resource of this server. */
  | { readonly in: 'server'; readonly type: string; readonly id: string }
  | {
      readonly in: 'search';
      readonly type: string;
      readonly criteria: readonly Identifier[];
    }
  /** Nothing but a business identifier. */
  | { readonly in: 'name'; readonly identifier: Identifier }
  | { readonly in: 'nowhere'; readonly why: string };

const RELATIVE = /^([A-Za-z]+)\/([A-Za-z0-9.-]{1,64})(?:\/_history\/[A-Za-z0-9.-]{1,64})?$/;
const QUERY = /^([A-Za-z]+)\?(.+)$/s;
const RESTFUL_BASE = /^(https?:\/\/.+)\/[A-Za-z]+\/[A-Za-z0-9.-]{1,64}$/;

export function homeOf(entry: SentEntry): Home {
  const contained = new Map<string, Json>();
  for (const one of asList(entry.resource.contained)) {
    const id = asText(asObject(one).id);
    if (id !== undefined) contained.set(id, asObject(one));
  }
  return { entry, contained };
}

/** Finds where references lead among what was sent, and what they ask of this server. */
export class ReferenceMap {
  readonly #byUrl: ReadonlyMap<string, SentEntry>;
  readonly #surroundings: Surroundings;

  constructor(entries: readonly SentEntry[], surroundings: Surroundings) {
    this.#surroundings = surroundings;
    this.#byUrl = new Map(
      entries.flatMap((entry) => (entry.fullUrl === null ? [] : [[entry.fullUrl, entry] as const])),
    );
  }

  locate(sent: SentReference, home: Home): Located {
    const { reference, identifier } = sent;
    if (reference !== undefined) return this.#follow(reference, home);
    const name = readIdentifier(identifier);
    return name === null
      ? nowhere(`must have a reference, or ${IDENTIFIER_RULE}`)
      : { in: 'name', identifier: name };
  }

  #follow(reference: string, home: Home): Located {
    if (reference.startsWith('#')) {
      const resource = home.contained.get(reference.slice(1));
      return resource === undefined
        ? nowhere('points to nothing that is contained')
        : { in: 'delivery', resource, home };
    }
    const entry = this.#entryOf(reference, home);
    if (entry !== undefined) {
      return this.#surroundings.linked
        ? { in: 'delivery', resource: entry.resource, home: homeOf(entry) }
        : nowhere('points to another entry, which holds in a transaction only');
    }
    return this.#onServer(reference);
  }

  /** By its full URL, or relative to the place that the full URL of the referring entry names. */
  #entryOf(reference: string, { entry }: Home): SentEntry | undefined {
    const found = this.#byUrl.get(reference.replace(/\/_history\/[^/]+$/, ''));
    if (found !== undefined || !RELATIVE.test(reference)) return found;
    const [, base] = RESTFUL_BASE.exec(entry.fullUrl ?? '') ?? [];
    return base === undefined ? undefined : this.#byUrl.get(`${base}/${reference}`);
  }

  #onServer(reference: string): Located {
    const { baseUrl, linked, readCriteria } = this.#surroundings;
    const local = reference.startsWith(`${baseUrl}/`)
      ? reference.slice(baseUrl.length + 1)
      : reference;
    const [, type, id] = RELATIVE.exec(local) ?? [];
    if (type !== undefined && id !== undefined) return { in: 'server', type, id };
    const [, searched, query = ''] = QUERY.exec(local) ?? [];
    if (searched === undefined) {
      return nowhere('leads neither to an entry nor to a resource of this server');
    }
    if (!linked) return nowhere('is a search, which holds in a transaction only');
    const criteria = readCriteria(query);
    return typeof criteria === 'string'
      ? nowhere(`is a search that is not offered: it ${criteria}`)
      : { in: 'search', type: searched, criteria };
  }
}

function nowhere(why: string): Located {
  return { in: 'nowhere', why };
}
