/** What the provenance of a reading's version is read from, as one row. */
import type { DecisionAction, ReasonCode } from '../vitals/decisions.js';
import type { HoldKind, Verdict } from '../vitals/words.js';
import { MERGE_COLUMNS, MERGE_JOINS } from './provenance-search.js';
import type { MergeRow } from './provenance-search.js';
import { READING_COLUMNS, READING_DICTIONARIES } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';
import type { ShownOfReading } from './shown-observations.js';

export interface OriginRow extends ReadingRow, MergeRow {
  shown: ShownOfReading;
  previous: number | null;
  before_verdict: Verdict | null;
  before_hold: HoldKind | null;
  before_findings: number | null;
  source_id: string;
  whole_id: string | null;
  sha256: Buffer | null;
  sender_id: string | null;
  sender_name: string | null;
  action: DecisionAction | null;
  reason: string | null;
  reason_code: ReasonCode | null;
  decider_id: string | null;
  decider_name: string | null;
  person_system: string | null;
  person_value: string | null;
  decision_id: string | null;
  decision_sha256: Buffer | null;
  read_later: boolean;
  replaced_id: string | null;
  replaced_version: number | null;
}

/** A part of a message has its bytes with the whole. */
export const ORIGIN_COLUMNS = `${READING_COLUMNS}, r.shown, s.source_id,
  (select max(o.version) from readings o
    where o.reading_id = r.reading_id and o.version < r.version and o.status is not null
      and (r.shown = 'reading' or o.derived ? r.shown)) as previous,
  b.verdict as before_verdict, b.hold as before_hold,
  coalesce(jsonb_array_length(b.findings), 0) as before_findings,
  coalesce(u.part_of, u.submission_id) as whole_id, u.sha256,
  uc.client_id as sender_id, uc.name as sender_name,
  x.action, x.reason, x.reason_code, xc.client_id as decider_id, xc.name as decider_name,
  xp.system as person_system, xp.value as person_value,
  coalesce(xs.part_of, xs.submission_id) as decision_id, xs.sha256 as decision_sha256,
  y.submission_id is not null as read_later,
  z.reading_id as replaced_id, z.version as replaced_version, ${MERGE_COLUMNS}`;

const SUBMISSION = "(left(r.reading_id::text, -4) || '0000')::uuid";
const INDEX = "('x' || right(r.reading_id::text, 4))::bit(16)::int - 1";

/** What made a version: the decision that led to it, or the merge in whose commit it changed its patient. */
export const ORIGIN_JOINS = `${READING_DICTIONARIES}
  left join submissions u on u.submission_id = ${SUBMISSION}
  left join clients uc on uc.client_key = u.client_key
  left join readings b on b.reading_id = r.reading_id and b.version = r.version - 1
  left join unread_rows y on y.submission_id = ${SUBMISSION} and y.place = ${INDEX} and y.read_at = r.stamp
                         and r.version = 1
  left join lateral (
    select d.* from decisions d
     where (d.reading_id = r.reading_id and d.to_version = r.version)
        or (d.reading_id = r.replaces and d.new_reading_id = r.reading_id and r.version = 1)
     limit 1) x on true
  left join clients xc on xc.client_key = x.client_key
  left join people xp on xp.person_key = x.person_key
  left join submissions xs on xs.submission_id = x.submission_id
  left join lateral (
    select g.retired_key = r.patient_key as undone, g.*, f.patient_id as other_patient_id
      from merges g join patients f on f.patient_key = b.patient_key
     where b.patient_key <> r.patient_key
       and ((g.stamp = r.stamp and g.retired_key = b.patient_key and g.survivor_key = r.patient_key)
         or (g.undone_stamp = r.stamp and g.survivor_key = b.patient_key and g.retired_key = r.patient_key))
     limit 1) m on true ${MERGE_JOINS}
  left join readings z on z.reading_id = r.replaces and z.version = x.to_version and z.status is not null
                      and r.version = 1`;
