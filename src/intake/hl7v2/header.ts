import type { SupposedZone } from './read-time.js';
import type { Separators } from './separators.js';

/** MSH-15 and -16: HL7 table 0155, always, never, only on error, only on success. */
export type AcknowledgeWhen = 'AL' | 'NE' | 'ER' | 'SU';

/** Original mode (both fields absent), or enhanced with what the sender wants (HL7 v2.9.1 §2.8.2, §2.8.3). */
export type AcknowledgeMode =
  | { readonly kind: 'original' }
  | {
      readonly kind: 'enhanced';
      readonly accept: AcknowledgeWhen;
      readonly application: AcknowledgeWhen;
    };

/** What an answer repeats of the message: bytes as they came, a character a byte. */
export interface EchoedFields {
  readonly separators: Separators;
  /** MSH-3 and MSH-4. */
  readonly application: string;
  readonly facility: string;
  /** MSH-5 and MSH-6. */
  readonly receivingApplication: string;
  readonly receivingFacility: string;
  /** Trigger event, empty when it cannot be told. */
  readonly event: string;
  readonly controlId: string;
  readonly processingId: string;
  readonly version: string;
  /** MSH-18; empty when it names a set that the gateway does not write. */
  readonly charset: string;
}

/** What a message is for; it decides who reads it on. */
export type MessagePurpose = 'observations' | 'association' | 'patient';

/** MSH-21: one message profile by its OID (third component of EI). */
export interface ClaimedProfile {
  readonly name: string;
  readonly oid: string;
}

/** The header of a message, read. Texts are decoded, those of `echo` are not. */
export interface Hl7Header {
  readonly application: HierarchicDesignator;
  readonly facility: HierarchicDesignator;
  /** MSH-7 as it is written. */
  readonly sentText: string;
  /** The zone of MSH-7 stands for that of every time without one (HL7 v2.9.1 §2.13.9.7); null: it has none. */
  readonly zone: SupposedZone | null;
  readonly messageType: string;
  readonly event: string;
  /** MSH-10, the very bytes. */
  readonly controlIdBytes: Buffer;
  /** `P` production, `D` debugging, `T` training (HL7 table 0103): only `P` is about real patients. */
  readonly processingId: string;
  readonly version: string;
  readonly mode: AcknowledgeMode;
  /** MSH-17, ISO 3166 alpha-3. */
  readonly country: string;
  readonly profiles: readonly ClaimedProfile[];
  readonly echo: EchoedFields;
}

/** HD: who a system is, by a name of the site or by a universal id and its type. */
export interface HierarchicDesignator {
  readonly namespace: string;
  readonly universalId: string;
  readonly universalIdType: string;
}
