/** Kept messages read again once a mapping was put in force. */
import { normaliseDelivery } from '../normalise/normalise-set.js';
import { readDelivery } from './read-delivery.js';
import { findReplayable } from '../store/find-replayable.js';
import type { Actor } from '../store/editions.js';
import type { Judging } from '../store/commit-sets.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import { replaySet } from '../store/replay-set.js';
import type { ReplayMode } from '../store/replaying.js';
import type { ReplayedReading } from '../store/replay-set.js';
import type { SourceDirectory } from '../store/source-directory.js';
import type { Reading } from '../vitals/shapes.js';

export interface ReplayServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Judging;
  readonly directory: SourceDirectory;
  readonly siteZone: string;
  readonly clock: () => number;
}

/**
 * Reads the message of a submission again and judges anew what was rejected for want of a mapping, or
 * unread. Whose readings they are is not asked again. Null: there is no such submission.
 * @param mode `look` tells what would come of it, and writes nothing
 */
export async function replayMessage(
  { pool, names, stages, directory, siteZone, clock }: ReplayServices,
  submissionId: string,
  cause: Actor,
  mode: ReplayMode = 'keep',
): Promise<readonly ReplayedReading[] | null> {
  const message = await findReplayable(pool, submissionId);
  if (message === null) return null;
  const source = await directory.findSource(message.sourceKey);
  if (source === null) return [];
  const { profile } = source;
  const zoned = { ...profile, zone: profile.zone ?? siteZone };
  const sets = await readDelivery(pool, message.bytes, message.contentType, zoned);
  const receivedAt = { epochMs: message.receivedAtMs, offsetMinutes: 0 };
  const readings: Reading[] = sets.flatMap(
    (set) =>
      normaliseDelivery(set, {
        setId: '',
        patient: { identifier: { system: '', value: '' } },
        claim: { by: 'named', doubts: [] },
        receivedAt,
      }).readings,
  );
  const replayed: ReplayedReading[] = [];
  for (const part of message.parts) {
    const request = { submissionId: part, readings, ...cause, nowMs: clock(), mode };
    replayed.push(...((await replaySet(pool, names, stages, request)) ?? []));
  }
  return replayed;
}
