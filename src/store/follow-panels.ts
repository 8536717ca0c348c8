/**
 * Panels follow their readings: whoever publishes or changes readings calls this as the last thing under
 * its commit stamp. So a panel has its version in the very commit that made it necessary, and never two.
 */
import type { ClientBase } from 'pg';
import type { LinkedReading } from '../vitals/shapes.js';
import type { ObservationStatus } from '../vitals/words.js';
import { insertPanels, panelRecord } from './panel-records.js';
import type { KeptPanelRecord, PanelSource } from './panel-records.js';
import { PANEL_PLACE, indexOf, panelIdOf } from './reading-rows.js';

/** A set as a batch has just drafted it. */
export interface DraftedSet {
  readonly submissionId: string;
  readonly records: readonly Readonly<Record<string, unknown>>[];
  readonly linked: readonly LinkedReading[];
}

/**
 * Writes the panels of sets that are new in this commit, from what was drafted: nothing has to be read.
 * Not for sets with readings that another set had brought: see {@link followPanels}.
 */
export async function insertFirstPanels(
  client: ClientBase,
  sets: readonly DraftedSet[],
  stampMs: number,
): Promise<void> {
  const stamp = new Date(stampMs).toISOString();
  const panels = sets.flatMap(({ submissionId, records }) => {
    if (records.length < 2) return [];
    const sources = records.flatMap((record) => toSource(record, true));
    return asList(panelRecord(panelIdOf(submissionId), null, sources, stamp));
  });
  await insertPanels(client, panels);
}

function asList<T>(one: T | null): T[] {
  return one === null ? [] : [one];
}

/** None unless it is published. */
function toSource(record: Readonly<Record<string, unknown>>, own: boolean): PanelSource[] {
  const { status } = record;
  if (status === undefined || status === null) return [];
  return [
    {
      readingId: String(record.reading_id),
      patientKey: Number(record.patient_key),
      status: status as ObservationStatus,
      takenAtMs: Date.parse(String(record.effective_at)),
      ...{ own, record },
    },
  ];
}

/**
 * Writes the next versions of the panels of all sets that have a reading with this stamp, and of those that
 * brought one of these readings too. The stamp was taken in this transaction: its lock lets nobody else be
 * at work on a panel.
 */
export async function followPanels(client: ClientBase, stampMs: number): Promise<void> {
  const stamp = new Date(stampMs).toISOString();
  const sets = await readTouchedSets(client, stamp);
  if (sets.size === 0) return;
  const kept = await readPanels(client, [...sets.keys()]);
  const next = [...sets].flatMap(([panelId, sources]) =>
    asList(panelRecord(panelId, kept.get(panelId) ?? null, sources, stamp)),
  );
  await insertPanels(client, next);
}

interface SourceRow {
  panel_id: string;
  place: number | null;
  record: Record<string, unknown>;
}

/** The published readings of each set, in its order. */
async function readTouchedSets(
  client: ClientBase,
  stamp: string,
): Promise<Map<string, PanelSource[]>> {
  const { rows } = await client.query<SourceRow>({
    name: 'read-touched-sets',
    text: `with touched as materialized (
             select distinct left(r.reading_id::text, 32) as stem from readings r where r.stamp = $1),
           sets as (
             select stem from touched
             union
             select left(k.submission_id::text, 32) from touched t
               join linked_readings k on k.first_submission_id = (t.stem || '0000')::uuid)
           select (s.stem || '${PANEL_PLACE}')::uuid as panel_id, m.place, m.record
             from sets s cross join lateral (
               select null::int as place, ${RECORD} as record from readings r
                where r.reading_id between (s.stem || '0001')::uuid and (s.stem || 'ffff')::uuid
                  and r.superseded is null and r.status is not null
               union all
               select k.place, ${RECORD} from linked_readings k
                 join readings r on r.reading_id = k.reading_id
                where k.submission_id = (s.stem || '0000')::uuid
                  and r.superseded is null and r.status is not null) m`,
    values: [stamp],
  });
  const placed = rows
    .map(({ panel_id: panelId, place, record }) => {
      const at = place ?? indexOf(String(record.reading_id));
      return { panelId, at, sources: toSource(record, place === null) };
    })
    .sort((one, other) => one.at - other.at);
  const sets = new Map<string, PanelSource[]>();
  for (const { panelId, sources } of placed) {
    sets.set(panelId, [...(sets.get(panelId) ?? []), ...sources]);
  }
  return sets;
}

const RECORD = `jsonb_build_object(
  'reading_id', r.reading_id, 'patient_key', r.patient_key, 'identifier_key', r.identifier_key,
  'status', r.status, 'effective_at', r.effective_at, 'offset_minutes', r.offset_minutes,
  'edition', r.edition, 'set_id', r.set_id, 'source_key', r.source_key,
  'encounter_key', r.encounter_key, 'recorder_key', r.recorder_key,
  'recorder_asserted', r.recorder_asserted)`;

interface PanelRow {
  record: Record<string, unknown> & { panel_id: string; members: string[] };
  was_final: boolean;
}

async function readPanels(
  client: ClientBase,
  ids: readonly string[],
): Promise<Map<string, KeptPanelRecord>> {
  const { rows } = await client.query<PanelRow>({
    name: 'read-panels',
    text: `select to_jsonb(p) as record,
                  exists (select from panels f where f.panel_id = p.panel_id
                             and f.status in ('final', 'amended', 'corrected')) as was_final
             from panels p where p.panel_id = any($1::uuid[]) and p.superseded is null`,
    values: [ids],
  });
  return new Map(rows.map((row) => [row.record.panel_id, toKept(row)]));
}

function toKept({ record, was_final: wasFinal }: PanelRow): KeptPanelRecord {
  return {
    patientKey: Number(record.patient_key),
    members: record.members,
    status: record.status as ObservationStatus,
    takenAtMs: Date.parse(String(record.effective_at)),
    version: Number(record.version),
    ...{ wasFinal, record },
  };
}
