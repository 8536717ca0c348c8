/** Readings taken against a known value, kept beside the bytes that brought them; no patient's. */
import type { ClientBase, Pool } from 'pg';
import type { ReferenceKind, ReferencePart } from '../vitals/reference-check.js';
import type { Identifier, Reading } from '../vitals/shapes.js';
import type { Method, Site, Vital } from '../vitals/words.js';
import { insertAudit } from './audit.js';
import type { Edition, EditionShelf } from './edition-shelf.js';
import { SqlValues, timeRangeSql } from './sql-values.js';
import { insertSubmissions, submissionRecord } from './submission-records.js';
import type { Envelope } from './submission-records.js';
import { inTransaction } from './transaction.js';

/** A check that was judged and is to be kept. */
export interface JudgedCheck {
  readonly kind: ReferenceKind;
  readonly reading: Reading;
  readonly parts: readonly ReferencePart[];
  readonly passed: boolean;
  readonly personKey: number | null;
  /** The sending program named the person. */
  readonly personAsserted: boolean;
  readonly deviceKey: number | null;
}

/** What is answered to a check; a refused one has no row. */
export interface CheckOutcome {
  readonly status: 201 | 400;
  readonly answer: Buffer;
  readonly check: JudgedCheck | null;
}

/** Judges by the edition in force at the receipt, and keeps what was sent, what was answered and what was found. */
export async function keepReferenceCheck(
  pool: Pool,
  editions: EditionShelf,
  envelope: Envelope,
  judge: (edition: Edition) => CheckOutcome,
): Promise<CheckOutcome> {
  return inTransaction(pool, async (client) => {
    const edition = (await editions.inForce(client))(envelope.receivedAtMs);
    const outcome = judge(edition);
    const { status, answer, check } = outcome;
    const fate = { setId: null, holdsKey: false, status, answer, patientKey: null };
    await insertSubmissions(client, [
      submissionRecord(envelope, { ...fate, edition: edition.number }),
    ]);
    if (check !== null) await insertCheck(client, envelope, edition, check);
    await insertAudit(client, [
      {
        clientKey: envelope.clientKey,
        personKey: envelope.personKey,
        origin: envelope.origin,
        action: check === null ? 'reference-check-refused' : 'reference-check',
        outcome: status,
        entity: `reference-checks/${envelope.submissionId}`,
      },
    ]);
    return outcome;
  });
}

async function insertCheck(
  client: ClientBase,
  envelope: Envelope,
  edition: Edition,
  { kind, reading, parts, passed, personKey, personAsserted, deviceKey }: JudgedCheck,
): Promise<void> {
  await client.query(
    `insert into reference_checks (check_id, kind, taken_at, offset_minutes, source_key, person_key,
                                   person_asserted, device_key, vital, method, site, parts, passed,
                                   note, edition)
     values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`,
    [
      envelope.submissionId,
      kind,
      new Date(reading.takenAt.epochMs),
      reading.takenAt.offsetMinutes,
      envelope.sourceKey,
      personKey,
      personAsserted,
      deviceKey,
      reading.vital,
      reading.method,
      reading.site,
      JSON.stringify(parts),
      passed,
      reading.note,
      edition.number,
    ],
  );
}

/** A check as it is kept. Times in ms since the epoch. */
export interface KeptCheck {
  readonly checkId: string;
  readonly kind: ReferenceKind;
  readonly takenMs: number;
  readonly source: string;
  readonly person: Identifier | null;
  /** The person's id in the register: opaque, and always the same. */
  readonly personId: string | null;
  readonly personAsserted: boolean;
  readonly device: Identifier | null;
  readonly vital: Vital;
  readonly method: Method | null;
  readonly site: Site | null;
  readonly parts: readonly ReferencePart[];
  readonly passed: boolean;
  readonly note: string | null;
  readonly edition: number;
}

export interface CheckSearch {
  readonly device?: Identifier | undefined;
  readonly person?: Identifier | undefined;
  readonly vital?: Vital | undefined;
  readonly kind?: ReferenceKind | undefined;
  readonly taken: { readonly fromMs: number | null; readonly toMs: number | null };
}

interface CheckRow {
  check_id: string;
  kind: ReferenceKind;
  taken_at: Date;
  source: string;
  person_id: string | null;
  person_system: string | null;
  person_value: string | null;
  person_asserted: boolean | null;
  device_system: string | null;
  device_value: string | null;
  vital: Vital;
  method: Method | null;
  site: Site | null;
  parts: ReferencePart[];
  passed: boolean;
  note: string | null;
  edition: number;
}

const identifier = (system: string | null, value: string | null): Identifier | null =>
  system === null || value === null ? null : { system, value };

function toKept(row: CheckRow): KeptCheck {
  return {
    checkId: row.check_id,
    kind: row.kind,
    takenMs: row.taken_at.getTime(),
    source: row.source,
    person: identifier(row.person_system, row.person_value),
    personId: row.person_id,
    personAsserted: row.person_asserted ?? false,
    device: identifier(row.device_system, row.device_value),
    vital: row.vital,
    method: row.method,
    site: row.site,
    parts: row.parts,
    passed: row.passed,
    note: row.note,
    edition: row.edition,
  };
}

function demandsOf(search: CheckSearch, values: SqlValues): string[] {
  const { device, person, vital, kind, taken } = search;
  const named = (table: string, key: string, one: Identifier): string =>
    `c.${key} = (select ${key} from ${table} where system = ${values.bind(one.system)} and value = ${values.bind(one.value)})`;
  return [
    timeRangeSql('c.taken_at', taken, values),
    ...(device === undefined ? [] : [named('devices', 'device_key', device)]),
    ...(person === undefined ? [] : [named('people', 'person_key', person)]),
    ...(vital === undefined ? [] : [`c.vital = ${values.bind(vital, 'vital')}`]),
    ...(kind === undefined ? [] : [`c.kind = ${values.bind(kind)}`]),
  ];
}

/** The newest checks (by their time) that a search finds, newest first. */
export async function listReferenceChecks(
  pool: Pool,
  search: CheckSearch,
  limit: number,
): Promise<KeptCheck[]> {
  const values = new SqlValues();
  const demands = demandsOf(search, values).join(' and ');
  const { rows } = await pool.query<CheckRow>(
    `select c.check_id, c.kind, c.taken_at, s.name as source, p.person_id, p.system as person_system,
            p.value as person_value, c.person_asserted, d.system as device_system,
            d.value as device_value, c.vital, c.method, c.site, c.parts, c.passed, c.note, c.edition
       from reference_checks c
       join sources s on s.source_key = c.source_key
       left join people p on p.person_key = c.person_key
       left join devices d on d.device_key = c.device_key
      where ${demands}
      order by c.taken_at desc, c.check_id desc limit ${values.bind(limit)}`,
    values.list,
  );
  return rows.map(toKept);
}
