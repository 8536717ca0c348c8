import type { SourceFacts } from './vitals/shapes.js';

/** Of a sender what judging must know, and nothing else of it. */
export function factsOf(sender: SourceFacts): SourceFacts {
  const { attended, secondIdentifierRequired, synchronised, skewMs } = sender;
  return {
    attended,
    secondIdentifierRequired,
    ...(synchronised !== undefined && { synchronised }),
    ...(skewMs !== undefined && { skewMs }),
  };
}
