/** Tools for whoever wires a source: a message tried, kept messages read again. */
import type { Stages } from '../judging.js';
import { replayMessage } from '../deliveries/replays.js';
import type { Actor } from '../store/editions.js';
import type { ReplayMode } from '../store/replaying.js';
import { messageTrialRoute } from '../serve/admin/message-trial-route.js';
import type { MessageTrialServices } from '../serve/admin/message-trial-route.js';
import type { Route } from '../serve/http/route.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import type { ReplayedReading } from '../store/replay-set.js';
import type { SourceDirectory } from '../store/source-directory.js';
import { findMapping, noteMappingTried } from '../store/source-mappings.js';
import { TRIED_TYPES, tryMessage } from '../trials/try-message.js';

export interface WiringServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly directory: SourceDirectory;
  readonly siteZone: string;
  readonly clock: () => number;
}

export interface Wiring {
  readonly trialRoute: Route;
  readonly tryMessage: MessageTrialServices['tryMessage'];
  readonly replay: (
    submissionId: string,
    cause: Actor,
    how?: ReplayMode,
  ) => Promise<readonly ReplayedReading[] | null>;
}

export function composeWiring(services: WiringServices): Wiring {
  const tryMessage = makeTrial(services);
  return {
    replay: (submissionId, cause, how) => replayMessage(services, submissionId, cause, how),
    tryMessage,
    trialRoute: messageTrialRoute({ mediaTypes: TRIED_TYPES, tryMessage }),
  };
}

function makeTrial(services: WiringServices): MessageTrialServices['tryMessage'] {
  const { pool, directory, siteZone, clock } = services;
  return async (sourceId, { bytes, mediaType, mapping: number }) => {
    const source = await directory.findSourceById(sourceId);
    if (source === null) return 'no-source';
    const tried = number === null ? null : await findMapping(pool, sourceId, number);
    if (number !== null && tried === null) return 'no-mapping';
    const { profile } = source;
    const told = await tryMessage(
      services,
      {
        name: source.name,
        attended: profile.attended,
        secondIdentifierRequired: source.secondIdentifierRequired,
        synchronised: source.synchronised,
        profile: {
          ...profile,
          zone: profile.zone ?? siteZone,
          mapping: tried?.mapping ?? profile.mapping,
        },
      },
      bytes,
      mediaType,
    );
    if (number !== null) await noteMappingTried(pool, sourceId, number, clock());
    return told;
  };
}
