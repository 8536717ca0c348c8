import type { CompareIdentity } from '../../store/associations.js';
import type { Names } from '../../store/names.js';
import type { Pool } from '../../store/pool.js';
import type { SourceDirectory } from '../../store/source-directory.js';

export interface RegistryServices {
  readonly pool: Pool;
  readonly names: Names;
  /** Told of every change of a source, so that this process knows it at once. */
  readonly directory: Pick<SourceDirectory, 'forget'>;
  /** Whether a second identifier agrees with the register. */
  readonly compareIdentity: CompareIdentity;
  /** ms since the epoch. */
  readonly clock: () => number;
}
