/** What judging one set makes public of others. */
import type { Finding, JudgedSet } from '../vitals/shapes.js';
import { publicationCauses } from './publish-held.js';
import { keptFinding } from './reading-records.js';

interface PublicationDrafts {
  readonly readings: Record<string, unknown>[];
  /** Readings of earlier commits that must go out now, with the finding that says why. */
  readonly publish: Map<string, Finding>;
}

/**
 * The other side of a disagreement with a critical value goes out too; it may stand in this very batch.
 * What a repeat releases gets a next version also there: its sender was told of the hold.
 */
export function draftPublications(judged: JudgedSet, drafts: PublicationDrafts): void {
  for (const [id, cause] of publicationCauses(judged)) {
    const draft = drafts.readings.find((record) => record.reading_id === id);
    if (draft === undefined || cause.releases?.includes(id) === true) drafts.publish.set(id, cause);
    else {
      draft.status = 'preliminary';
      draft.findings = [...((draft.findings ?? []) as Finding[]), keptFinding(cause)];
    }
  }
}
