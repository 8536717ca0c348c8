/** How the messages of one source are read: its registration, as far as a protocol must know it. */
import type { EnteredUnit, Method, Part, Site, Vital } from './words.js';

/** A code of the source's own, and the sign that it stands for. */
export interface CodeMapping {
  /** As the message names it; absent: whatever stands there. */
  readonly system?: string;
  readonly code: string;
  readonly vital: Vital;
  /** Which part of a pressure. */
  readonly part?: Exclude<Part, 'value'>;
  readonly method?: Method;
  readonly site?: Site;
}

/** A spelling of a unit that is not UCUM, compared letter by letter. */
export interface UnitMapping {
  readonly alias: string;
  readonly unit: EnteredUnit;
}

export interface SourceMapping {
  readonly codes: readonly CodeMapping[];
  readonly units: readonly UnitMapping[];
}

export const NO_MAPPING: SourceMapping = { codes: [], units: [] };

/** A mapping that somebody proposes, and why. */
export interface MappingProposal {
  readonly mapping: SourceMapping;
  readonly reason: string;
}

export interface SourceProfile {
  /** A person stands by each reading. */
  readonly attended: boolean;
  /** IANA zone of its times that have no offset; null: such times are held. */
  readonly zone: string | null;
  /** Identifier system of patient identifiers without an assigning authority; null: they are held. */
  readonly defaultAuthority: string | null;
  /** Identifier systems by the name of the assigning authority. */
  readonly authorities: Readonly<Record<string, string>>;
  readonly mapping: SourceMapping;
}
