/** How devices are named, whatever protocol names them: one spelling each, so that one device is one row. */
import type { Identifier } from './shapes.js';

/** IEEE EUI-64 as an identifier system (HL7 Personal Health Device Implementation Guide, Device.identifier). */
export const EUI64_SYSTEM = 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680';
/** The value is itself a URI, such as `urn:uuid:…` (FHIR R4 §2.24.0.13, Identifier). */
export const URI_SYSTEM = 'urn:ietf:rfc:3986';

const EUI64 = /^(?:[0-9a-f]{2}[-:. ]?){7}[0-9a-f]{2}$/i;

/**
 * An EUI-64 as eight pairs of upper-case hexadecimal digits with dashes between them, as the Personal
 * Health Device guide writes it. Null: the text is none.
 */
export function writeEui64(text: string): string | null {
  if (!EUI64.test(text)) return null;
  const digits = text.replace(/[^0-9a-f]/gi, '').toUpperCase();
  return (digits.match(/../g) ?? []).join('-');
}

/**
 * The identifier in the one spelling under which its device is kept: EUI-64 by {@link writeEui64}, a
 * UUID in lower case (RFC 9562 §4). Anything else, a badly formed EUI-64 too, stays as it was sent.
 */
export function canonicalDevice(identifier: Identifier): Identifier {
  const { system, value } = identifier;
  if (system === EUI64_SYSTEM) return { system, value: writeEui64(value) ?? value };
  if (system === URI_SYSTEM && /^urn:uuid:/i.test(value)) {
    return { system, value: value.toLowerCase() };
  }
  return identifier;
}
