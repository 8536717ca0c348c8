import type { NamedActor } from '../../../store/editions.js';

/** Who did something: the person, or the program alone; null: nobody, it came with the gateway. */
export function actorText(actor: NamedActor | null): string {
  if (actor === null) return 'the gateway itself';
  return actor.person?.value ?? `the program ${actor.client}`;
}
