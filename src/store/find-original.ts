/** Which kept reading a later Observation of the same source speaks about. */
import type { Pool } from 'pg';
import type { DeliveredPatient, Identifier, IncomingReading } from '../vitals/shapes.js';
import type { HoldKind, ObservationStatus, Verdict } from '../vitals/words.js';
import { findAmended } from './find-amended.js';
import type { AmendedReading } from './find-amended.js';
import { readingId } from './reading-rows.js';

export type OriginalFound =
  | { readonly kind: 'found'; readonly original: AmendedReading }
  /** What stands under its identifier is another patient's, or another sign. */
  | { readonly kind: 'other' }
  | { readonly kind: 'none' };

interface OriginalRow {
  reading_id: string;
  version: number;
  verdict: Verdict;
  hold: HoldKind | null;
  status: ObservationStatus | null;
  same: boolean;
}

/** The identifier that the gateway itself gives: a set, and a place in it. */
const PLACE_IN_SET = /^urn:uuid:([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})#(\d{1,4})$/;

/** By its identifiers; without any, by patient, sign, method, device and second. */
export async function findOriginal(
  pool: Pool,
  sourceKey: number,
  patient: DeliveredPatient | null,
  reading: IncomingReading,
): Promise<OriginalFound> {
  const identifiers = reading.report?.identifiers ?? [];
  const owners = patient === null ? [] : [patient.identifier, ...(patient.others ?? [])];
  const named = await findNamed(pool, sourceKey, identifiers, owners, reading);
  const [row, another] = named;
  if (row !== undefined && another === undefined) {
    const { reading_id: id, version, verdict, hold, status } = row;
    if (!row.same) return { kind: 'other' };
    return { kind: 'found', original: { readingId: id, version, verdict, hold, status } };
  }
  if (another !== undefined || reading.takenAt === undefined) return { kind: 'none' };
  const { vital, method = null, device } = reading;
  for (const owner of owners) {
    const original = await findAmended(pool, {
      ...{ sourceKey, patient: owner, vital, method },
      device: device?.identifier ?? null,
      takenAtMs: Date.parse(reading.takenAt),
    });
    if (original !== null) return { kind: 'found', original };
  }
  return { kind: 'none' };
}

async function findNamed(
  pool: Pool,
  sourceKey: number,
  identifiers: readonly Identifier[],
  owners: readonly Identifier[],
  { vital }: IncomingReading,
): Promise<readonly OriginalRow[]> {
  if (identifiers.length === 0) return [];
  const places = identifiers.flatMap(({ value }) => {
    const [, setId, index] = PLACE_IN_SET.exec(value) ?? [];
    return setId === undefined ? [] : [{ setId, suffix: readingId('', Number(index)) }];
  });
  const { rows } = await pool.query<OriginalRow>({
    name: 'find-original',
    text: `with ids as (
             select i.reading_id
               from unnest($1::text[], $2::text[]) as n(system, value)
               join observation_identifiers i on i.system = n.system and i.value = n.value
             union
             select (left(s.submission_id::text, -4) || p.suffix)::uuid
               from unnest($3::uuid[], $4::text[]) as p(set_id, suffix)
               join submissions s on s.set_id = p.set_id and s.holds_key and s.source_key = $5)
           select r.reading_id, r.version, r.verdict, r.hold, r.status,
                  r.vital = $6::vital and (cardinality($7::text[]) = 0 or exists (
                    select from unnest($7::text[], $8::text[]) as o(system, value)
                      join patient_identifiers p on p.system = o.system and p.value = o.value
                     where p.patient_key = r.patient_key)) as same
             from ids join readings r on r.reading_id = ids.reading_id and r.superseded is null
            where r.source_key = $5 and r.status is distinct from 'entered-in-error'
            limit 2`,
    values: [
      identifiers.map(({ system }) => system),
      identifiers.map(({ value }) => value),
      places.map(({ setId }) => setId),
      places.map(({ suffix }) => suffix),
      sourceKey,
      vital,
      owners.map(({ system }) => system),
      owners.map(({ value }) => value),
    ],
  });
  return rows;
}
