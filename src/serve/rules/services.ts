import type { RuleDescription } from '../../site-rules/describe-rules.js';
import type { Sender } from '../../pipeline.js';
import type { ReadBody } from '../../site-rules/read-rule-bodies.js';
import type { EditionShelf } from '../../store/edition-shelf.js';
import type { Actor } from '../../store/editions.js';
import type { Names } from '../../store/names.js';
import type { Pool } from '../../store/pool.js';
import type { Trials } from '../../trials/trials.js';
import type { Limits } from '../../vitals/limits.js';
import { HttpError } from '../http/http-error.js';

export interface RulesServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly editions: EditionShelf;
  readonly trials: Pick<Trials, 'start' | 'cancel'>;
  readonly describeRules: (limits: Limits) => readonly RuleDescription[];
  /** ms since the epoch. */
  readonly clock: () => number;
}

/** Who asks, as it is kept. */
export async function actorOf(names: Names, { clientKey, person, origin }: Sender): Promise<Actor> {
  if (person !== null) await names.learnPeople([person]);
  return { clientKey, personKey: names.person(person), origin };
}

/** What a body says; throws a 400 with every fault. */
export function valueOf<T>(read: ReadBody<T>): T {
  if (read.ok) return read.value;
  const count = read.faults.length === 1 ? 'one fault' : `${read.faults.length} faults`;
  throw new HttpError({
    status: 400,
    detail: `The body has ${count}; nothing was changed.`,
    errors: read.faults,
  });
}
