/** The door to the group commit: what goes in together is on disk together, and the metrics hear of it. */
import type { Stages } from './judging.js';
import { Overloaded } from './errors.js';
import { commitSets } from './store/commit-sets.js';
import { isDatabaseAway } from './store/database-away.js';
import type { SetItem, SetOutcome } from './store/draft-sets.js';
import { GroupCommit } from './store/group-commit.js';
import { conditionsOf } from './store/identified-readings.js';
import { nameOf } from './store/names.js';
import type { Names } from './store/names.js';
import type { Pool } from './store/pool.js';
import type { JudgedSet } from './vitals/shapes.js';

/** What committing tells the metrics. */
export interface CommitEvents {
  countSubmission(outcome: string): void;
  countJudged(judged: JudgedSet, sourceKey: number): void;
  observeCommit(sets: number, seconds: number): void;
}

export interface CommitterOptions {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly events: CommitEvents;
}

/** All parts of one submission: committed together or not at all. */
type Unit = readonly SetItem[];

/** Sets of one key, and readings to be kept under one identifier only once, come one after the other. */
function keysOf(unit: Unit): string[] {
  return unit.flatMap(({ envelope, content }) =>
    'set' in content
      ? [
          `${envelope.sourceKey}/${content.set.setId}`,
          ...conditionsOf(content.set.readings).map(
            (identifier) => `reading ${nameOf(identifier)}`,
          ),
        ]
      : [],
  );
}

/** Commits submissions in shared transactions, each whole. */
export class Committer {
  readonly #commits: GroupCommit<Unit, readonly SetOutcome[]>;
  readonly #events: CommitEvents;

  constructor({ pool, names, stages, events }: CommitterOptions) {
    this.#events = events;
    this.#commits = new GroupCommit<Unit, readonly SetOutcome[]>({
      async commit(units) {
        const outcomes = await commitSets(pool, names, stages, units.flat());
        let at = 0;
        return units.map(({ length }) => outcomes.slice(at, (at += length)));
      },
      keysOf,
      isHopeless: isDatabaseAway,
      overloaded: () => new Overloaded('too many sets are waiting'),
      onBatch(size, seconds) {
        events.observeCommit(size, seconds);
      },
    });
  }

  /** Resolves when all parts of the submission are on disk; one outcome a part, in order. */
  async commit(unit: Unit): Promise<readonly SetOutcome[]> {
    const outcomes = await this.#commits.submit(unit);
    for (const [place, { status, repeat, judged }] of outcomes.entries()) {
      this.#events.countSubmission(repeat ? 'repeat' : String(status));
      const sourceKey = unit[place]?.envelope.sourceKey;
      if (judged !== null && sourceKey !== undefined) this.#events.countJudged(judged, sourceKey);
    }
    return outcomes;
  }

  /** Resolves when nothing waits or is under way. */
  drain(): Promise<void> {
    return this.#commits.drain();
  }
}
