/** What stood when a stored set was committed: its own first versions, and the patient's readings near it. */
import type { ClientBase } from 'pg';
import type { EarlierReading } from '../vitals/shapes.js';
import type { CanonicalUnit, Vital } from '../vitals/words.js';
import { EARLIER_COLUMNS, toEarlierReading } from './judging-facts.js';
import type { EarlierRow, TimeWindow } from './judging-facts.js';
import { indexOf, readingIdRange } from './reading-rows.js';

/** The first versions of a set's readings. */
export interface KeptSet {
  /** Commit stamp of the set, in ms since the epoch. */
  readonly stampMs: number;
  /** Places of the readings that were kept; others had come by another road before. */
  readonly indexes: ReadonlySet<number>;
  /** Places of those that a rule looking back had something to say about. */
  readonly lookedBackOn: ReadonlySet<number>;
}

/** By submission; one of which no reading was kept is missing. One row a set: rows are what it costs. */
export async function readKept(
  client: ClientBase,
  submissionIds: readonly string[],
  lookingBack: ReadonlySet<string>,
): Promise<Map<string, KeptSet>> {
  const ranges = submissionIds.map(readingIdRange);
  const { rows } = await client.query<{
    submission_id: string;
    stamp: Date;
    kept: string[];
    looked_back_on: string[];
  }>({
    name: 'read-trial-kept',
    text: `select w.submission_id, k.stamp, k.kept, k.looked_back_on
             from unnest($1::uuid[], $2::uuid[], $3::uuid[]) as w(submission_id, first_id, last_id)
            cross join lateral (
                   select min(r.stamp) as stamp, array_agg(r.reading_id::text) as kept,
                          coalesce(array_agg(r.reading_id::text) filter (where exists (
                            select from jsonb_array_elements(r.findings) as f
                             where f ->> 'rule' = any($4::text[]))), '{}') as looked_back_on
                     from readings r
                    where r.reading_id between w.first_id and w.last_id and r.version = 1) as k
            where k.stamp is not null`,
    values: [
      submissionIds,
      ranges.map(({ first }) => first),
      ranges.map(({ last }) => last),
      [...lookingBack],
    ],
  });
  return new Map(
    rows.map((row) => [
      row.submission_id,
      {
        stampMs: row.stamp.getTime(),
        indexes: new Set(row.kept.map(indexOf)),
        lookedBackOn: new Set(row.looked_back_on.map(indexOf)),
      },
    ]),
  );
}

/** A set's stretch of time, and whose it is. */
export interface TrialWindow extends TimeWindow {
  readonly submissionId: string;
  readonly own: KeptSet;
}

/**
 * The readings that stood when each of these sets was committed, in its stretch of the patient's time:
 * the versions of that moment, oldest first, by submission. A set without any is missing.
 */
export async function readEarlierThen(
  client: ClientBase,
  windows: readonly TrialWindow[],
  unitOf: (vital: Vital) => CanonicalUnit | null,
): Promise<Map<string, EarlierReading[]>> {
  const { rows } = await client.query<EarlierRow & { submission_id: string }>({
    name: 'read-earlier-then',
    text: `select w.submission_id, ${EARLIER_COLUMNS}
             from unnest($1::uuid[], $2::timestamptz[], $3::int[], $4::timestamptz[], $5::timestamptz[])
                    as w(submission_id, stamp, patient_key, from_at, to_at)
             join readings r on r.patient_key = w.patient_key
                            and r.effective_at between w.from_at and w.to_at
                            and (r.stamp < w.stamp
                                 or (r.stamp = w.stamp and r.reading_id < w.submission_id))
             left join devices d on d.device_key = r.device_key
            where (r.superseded is null or r.superseded > w.stamp) and r.verdict <> 'rejected'
              and r.hold is distinct from 'identity' and r.status is distinct from 'entered-in-error'
            order by r.effective_at, r.reading_id`,
    values: [
      windows.map((window) => window.submissionId),
      windows.map((window) => new Date(window.own.stampMs).toISOString()),
      windows.map((window) => window.patientKey),
      windows.map((window) => new Date(window.fromMs).toISOString()),
      windows.map((window) => new Date(window.toMs).toISOString()),
    ],
  });
  const bySet = new Map<string, EarlierReading[]>();
  for (const row of rows) {
    const reading = toEarlierReading(row, unitOf(row.vital));
    const list = bySet.get(row.submission_id);
    if (list === undefined) bySet.set(row.submission_id, [reading]);
    else list.push(reading);
  }
  return bySet;
}
