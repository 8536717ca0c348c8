import { readUnit, type UnitFound } from '../../vitals/codes-units.js';
import { findSign, type CodeFound } from '../../vitals/find-sign.js';
import type { SourceProfile } from '../../vitals/source-profile.js';
import { remembering } from './coded-field.js';
import type { Hl7Header } from './header.js';
import { IdentifierReader } from './identifiers.js';
import type { Hl7Message } from './parse-message.js';
import { MomentReader } from './read-moment.js';
import type { Hl7Field } from './segment.js';

/** What all segments of one message are read by. */
export interface MessageScope {
  readonly profile: SourceProfile;
  readonly header: Hl7Header;
  readonly identifiers: IdentifierReader;
  readonly moments: MomentReader;
  readonly signOf: (field: Hl7Field) => CodeFound;
  readonly unitOf: (field: Hl7Field) => UnitFound;
  /** MSH-11 is not P. */
  readonly test: boolean;
  /** Bytes that are no characters of the set: of the patient only PID-3 is read. */
  readonly broken: boolean;
}

export function scopeOf(
  message: Hl7Message,
  header: Hl7Header,
  profile: SourceProfile,
): MessageScope {
  const { codes, units } = profile.mapping;
  return {
    profile,
    header,
    identifiers: new IdentifierReader(header, profile),
    moments: new MomentReader(header.zone, profile),
    signOf: remembering((sent) => findSign(sent, codes)),
    unitOf: remembering((sent) => readUnit(sent, units)),
    test: header.processingId !== 'P',
    broken: message.flags.invalidCharset || message.flags.undeclaredCharset,
  };
}
