/** Whose message it is: the registered source of a peer, and how its clock goes. */
import type { Deliverer } from './deliveries.js';
import type { HierarchicDesignator, Hl7Header } from '../intake/hl7v2/header.js';
import { isLoopback } from '../intake/hl7v2/peer.js';
import type { Peer } from '../intake/hl7v2/peer.js';
import { readTime } from '../intake/hl7v2/read-time.js';
import type { SourceClocks } from '../store/source-clocks.js';
import type { PeerRefusal, SourceDirectory, SystemName } from '../store/source-directory.js';
import type { SourceProfile } from '../vitals/source-profile.js';

export interface SenderServices {
  readonly directory: SourceDirectory;
  readonly sourceClocks: SourceClocks;
  /** Of sources that are registered without a zone. */
  readonly siteZone: string;
  readonly clock: () => number;
}

export interface FoundSender {
  readonly deliverer: Deliverer;
  readonly profile: SourceProfile;
  /** MSH-7, in ms since the epoch; null: it has none that names a moment. */
  readonly sentAtMs: number | null;
}

export type SenderAnswer =
  | ({ readonly found: true } & FoundSender)
  | { readonly found: false; readonly reason: PeerRefusal };

const NAMELESS: SystemName = { namespace: '', universalId: '' };

/** @param header null where the message has none that can be read: then certificate and address must do */
export async function findSender(
  { directory, sourceClocks, siteZone, clock }: SenderServices,
  peer: Peer,
  header: Hl7Header | null,
): Promise<SenderAnswer> {
  const answer = await directory.findPeer({
    certificateSha256: peer.certificateFingerprint,
    application: nameOf(header?.application),
    facility: nameOf(header?.facility),
    loopback: isLoopback(peer.address),
  });
  if (!answer.found) return answer;
  const { source } = answer;
  const sentAtMs = sentAt(header);
  const nowMs = clock();
  const skewMs =
    sentAtMs === null ? null : await sourceClocks.note(source.sourceKey, sentAtMs - nowMs, nowMs);
  return {
    found: true,
    profile: { ...source.profile, zone: source.profile.zone ?? siteZone },
    sentAtMs,
    deliverer: {
      clientKey: null,
      sourceKey: source.sourceKey,
      source: source.name,
      person: null,
      attended: source.profile.attended,
      secondIdentifierRequired: source.secondIdentifierRequired,
      synchronised: source.synchronised,
      ...(skewMs !== null && { skewMs }),
    },
  };
}

function nameOf(designator: HierarchicDesignator | undefined): SystemName {
  if (designator === undefined) return NAMELESS;
  const { namespace, universalId } = designator;
  return { namespace, universalId };
}

function sentAt(header: Hl7Header | null): number | null {
  if (header === null) return null;
  const time = readTime(header.sentText, header.zone);
  return time.kind === 'moment' ? time.epochMs : null;
}
