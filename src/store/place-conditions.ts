/** What a search can demand of where a reading belongs: its place in its set, its sender's name for it, its panel. */
import { identifiedSql } from './identifier-token.js';
import type { IdentifierToken } from './identifier-token.js';
import { PANEL_PLACE, panelIdOf, readingId, submissionOf } from './reading-rows.js';
import type { Shown } from './shown-observations.js';
import type { SqlValues } from './sql-values.js';

/** A reading by the set that its sender named; without an index the panel of the set. */
export interface PlaceInSet {
  readonly setId: string;
  readonly index: number | null;
}

export interface PlaceDemand {
  readonly places: readonly PlaceInSet[];
  /** Identifiers of their senders: as good as a place. */
  readonly named: readonly IdentifierToken[];
}

/** The demand that a panel has one of them as a member: that came with its set, or its set is linked to it. */
export function memberSql(ids: readonly string[], values: SqlValues): string {
  const members = values.bind(ids, 'uuid[]');
  const first = values.bind(ids.map(submissionOf), 'uuid[]');
  return `(r.members && ${members} and r.reading_id = any(array(
    select unnest(${values.bind(ids.map(panelIdOf), 'uuid[]')})
    union all
    select (left(k.submission_id::text, -4) || '${PANEL_PLACE}')::uuid from linked_readings k
     where k.first_submission_id = any(${first}) and k.reading_id = any(${members}))))`;
}

/** By way of the submission that holds the set's key: a reading's id follows from it and the place. */
function placeSql(places: readonly PlaceInSet[], values: SqlValues): string {
  const sets = values.bind(
    places.map(({ setId }) => setId),
    'uuid[]',
  );
  const suffixes = values.bind(
    places.map(({ index }) => (index === null ? PANEL_PLACE : readingId('', index))),
    'text[]',
  );
  return `select (left(s.submission_id::text, -4) || n.suffix)::uuid
            from unnest(${sets}, ${suffixes}) as n(set_id, suffix)
            join submissions s on s.set_id = n.set_id and s.holds_key`;
}

function namedSql(token: IdentifierToken, values: SqlValues): string {
  return `select i.reading_id from observation_identifiers i where ${identifiedSql('i', [token], values)}`;
}

/**
 * The demand that a row is one of them, or the panel of one. The ids first, as one list: alternatives of two
 * kinds would have every row looked at.
 */
export function placedSql({ places, named }: PlaceDemand, shown: Shown, values: SqlValues): string {
  const asked = places.filter(({ index }) => (index === null) === (shown === 'panel'));
  const ids = [placeSql(asked, values), ...named.map((token) => namedSql(token, values))];
  return `r.reading_id = any(array(${ids.join(' union all ')}))`;
}
