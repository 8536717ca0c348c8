import { EUI64_SYSTEM, URI_SYSTEM, writeEui64 } from '../../vitals/device-identifier.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { SourceProfile } from '../../vitals/source-profile.js';
import type { HierarchicDesignator, Hl7Header } from './header.js';
import type { Hl7Component, Hl7Repetition } from './segment.js';

/** Longer identifiers are no identifiers: none is cut, because two might become one. */
const MAX_LENGTH = 200;
// eslint-disable-next-line no-control-regex -- control characters are what is looked for
const CONTROL = /[\u0000-\u001f\u007f-\u009f]/;
const OID = /^[0-2](?:\.(?:0|[1-9]\d*))+$/;
const URI = /^[A-Za-z][A-Za-z0-9+.-]*:[^\s<>"{}|\\^`]+$/;
const UUID = /^[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}$/i;

/** Stands where nobody says whose identifiers these are: such a one is never matched with a doubt left out. */
export const NO_AUTHORITY = 'urn:v2:unnamed';

/** A text that can name something, without the blanks around it (U+00A0 too); null: it cannot. */
export function usableText(text: string): string | null {
  const trimmed = text.trim();
  if (trimmed === '' || trimmed === '""' || trimmed.length > MAX_LENGTH) return null;
  return CONTROL.test(trimmed) ? null : trimmed;
}

/** Reads the identifiers of one message: data types HD, CX, EI and XCN (HL7 v2.9.1 chapter 2A). */
export class IdentifierReader {
  readonly #profile: Pick<SourceProfile, 'authorities' | 'defaultAuthority'>;
  /** For what the sender itself has numbered: its devices, its people, its visits. */
  readonly #senderSystem: string;

  constructor(
    header: Pick<Hl7Header, 'application' | 'facility'>,
    profile: Pick<SourceProfile, 'authorities' | 'defaultAuthority'>,
  ) {
    this.#profile = profile;
    this.#senderSystem =
      this.#systemOf(header.application) ?? this.#systemOf(header.facility) ?? NO_AUTHORITY;
  }

  /** CX of a patient: `system` is null where neither the message nor the registration names an authority. */
  patientId(cx: Hl7Repetition): { system: string | null; value: string; type: string } | null {
    const value = usableText(cx.component(1).text);
    if (value === null) return null;
    const system = this.#systemOf(designatorOf(cx.component(4))) ?? this.#profile.defaultAuthority;
    return { system, value, type: cx.component(5).text.trim().toUpperCase() };
  }

  /** CX of a visit. */
  visit(cx: Hl7Repetition): Identifier | null {
    return this.#bySender(cx.component(1).text, designatorOf(cx.component(4)));
  }

  /** XCN of a member of staff. */
  person(xcn: Hl7Repetition): Identifier | null {
    return this.#bySender(xcn.component(1).text, designatorOf(xcn.component(9)));
  }

  /**
   * EI of a device. With a universal id of its own kind (EUI-64, UUID, URI) that is the device; an OID or
   * a name is an authority, and the first component the device's number there.
   */
  device(ei: Hl7Repetition): Identifier | null {
    const [value, namespace, universalId, type] = [1, 2, 3, 4].map((n) =>
      ei.component(n).text.trim(),
    );
    const own = ownDeviceId(universalId ?? '', type ?? '');
    if (own !== null) return own;
    return this.#bySender(value ?? '', {
      namespace: namespace ?? '',
      universalId: universalId ?? '',
      universalIdType: type ?? '',
    });
  }

  #bySender(text: string, authority: HierarchicDesignator): Identifier | null {
    const value = usableText(text);
    if (value === null) return null;
    return { system: this.#systemOf(authority) ?? this.#senderSystem, value };
  }

  /** The identifier system of an assigning authority; null: none is named. */
  #systemOf(authority: HierarchicDesignator): string | null {
    const { namespace, universalId, universalIdType } = authority;
    const names = [namespace, universalId].map(usableText);
    for (const name of names) {
      if (name !== null && Object.hasOwn(this.#profile.authorities, name)) {
        return this.#profile.authorities[name] ?? null;
      }
    }
    const [local = null, universal = null] = names;
    if (universal !== null) {
      const type = universalIdType.trim().toUpperCase();
      if (type === 'ISO' && OID.test(universal)) return `urn:oid:${universal}`;
      if (type === 'URI' && URI.test(universal)) return universal;
      if (isUuidType(type) && UUID.test(universal)) return `urn:uuid:${universal.toLowerCase()}`;
    }
    const name = local ?? universal;
    return name === null ? null : `urn:v2:${encodeURIComponent(name)}`;
  }
}

/** HD as one component: its parts are subcomponents. */
function designatorOf(component: Hl7Component): HierarchicDesignator {
  return {
    namespace: component.subcomponent(1),
    universalId: component.subcomponent(2),
    universalIdType: component.subcomponent(3),
  };
}

function ownDeviceId(universalId: string, type: string): Identifier | null {
  const kind = type.toUpperCase();
  if (kind === 'EUI-64' || kind === 'EUI64') {
    const value = writeEui64(universalId);
    return value === null ? null : { system: EUI64_SYSTEM, value };
  }
  if (isUuidType(kind) && UUID.test(universalId)) {
    return { system: URI_SYSTEM, value: `urn:uuid:${universalId.toLowerCase()}` };
  }
  return null;
}

/** HL7 table 0301. */
function isUuidType(type: string): boolean {
  return type === 'UUID' || type === 'GUID';
}
