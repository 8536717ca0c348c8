import type { Pipeline } from '../../pipeline.js';

/** The part of the pipeline that senders reach over HTTP. */
export type SetPipeline = Pick<
  Pipeline,
  'receiveSet' | 'checkSet' | 'findSet' | 'listChangedSets' | 'decideOwn'
>;
