/** Which registered source a message comes from, and how its messages are to be read. */
import type { Pool } from 'pg';
import { NO_MAPPING } from '../vitals/source-profile.js';
import type { SourceMapping, SourceProfile } from '../vitals/source-profile.js';

/** How long a registration may be out of date: a change is known everywhere after this at the latest. */
const MAX_AGE_MS = 2_000;

/** HD of HL7 v2: a name of the site, or a universal id; each may be empty. */
export interface SystemName {
  readonly namespace: string;
  readonly universalId: string;
}

/** What is known of the sender of a message. */
export interface PeerQuestion {
  /** SHA-256 of its client certificate (DER), 64 small hex digits; null: it came without TLS. */
  readonly certificateSha256: string | null;
  /** MSH-3 and MSH-4. */
  readonly application: SystemName;
  readonly facility: SystemName;
  /** It came from this machine. */
  readonly loopback: boolean;
}

/** A source as those see it who take its messages. */
export interface DirectorySource {
  readonly sourceKey: number;
  readonly sourceId: string;
  readonly name: string;
  /** False: the one for peers that nobody has registered. */
  readonly registered: boolean;
  readonly secondIdentifierRequired: boolean;
  readonly synchronised: boolean;
  readonly profile: SourceProfile;
}

export type PeerRefusal =
  /** No source has this certificate. */
  | 'certificate-unknown'
  /** These names were registered with a certificate, and it came without one. */
  | 'certificate-missing'
  /** MSH-3 and MSH-4 are not those of the certificate's source, or are another's. */
  | 'names-differ'
  | 'disabled'
  /** Without TLS, and not from this machine. */
  | 'not-protected';

export type PeerAnswer =
  | { readonly found: true; readonly source: DirectorySource }
  | { readonly found: false; readonly reason: PeerRefusal };

interface Entry {
  readonly source: DirectorySource;
  readonly application: string | null;
  readonly facility: string | null;
  readonly certificateSha256: string | null;
  readonly disabled: boolean;
}

interface EntryRow {
  source_key: number;
  source_id: string;
  name: string;
  built_in: boolean;
  attended: boolean;
  second_identifier_required: boolean;
  synchronised: boolean;
  zone: string | null;
  application: string | null;
  facility: string | null;
  certificate: string | null;
  default_authority: string | null;
  authorities: Record<string, string> | null;
  disabled: boolean;
  mapping: number | null;
}

/** All sources, read again when they are {@link MAX_AGE_MS} old; many messages share one look. */
export class SourceDirectory {
  #entries: Promise<readonly Entry[]> | null = null;
  #readAtMs = -Infinity;
  /** By source and version: what a version says never changes. Only those in force are kept. */
  #mappings = new Map<string, SourceMapping>();
  readonly #pool: Pool;

  constructor(pool: Pool) {
    this.#pool = pool;
  }

  /** The source of an HL7 v2 message, or why it is none's. */
  async findPeer(question: PeerQuestion): Promise<PeerAnswer> {
    return choosePeer(await this.#fresh(), question);
  }

  /** A source by its key, disabled or not; null: there is none. */
  async findSource(sourceKey: number): Promise<DirectorySource | null> {
    const entries = await this.#fresh();
    return entries.find(({ source }) => source.sourceKey === sourceKey)?.source ?? null;
  }

  /** The same by its public id. */
  async findSourceById(sourceId: string): Promise<DirectorySource | null> {
    const entries = await this.#fresh();
    return entries.find(({ source }) => source.sourceId === sourceId)?.source ?? null;
  }

  /** This process has just changed a source. */
  forget(): void {
    this.#entries = null;
  }

  #fresh(): Promise<readonly Entry[]> {
    const nowMs = Date.now();
    if (this.#entries !== null && nowMs - this.#readAtMs < MAX_AGE_MS) return this.#entries;
    const reading = this.#read();
    this.#entries = reading;
    this.#readAtMs = nowMs;
    reading.catch(() => {
      if (this.#entries === reading) this.#entries = null;
    });
    return reading;
  }

  async #read(): Promise<readonly Entry[]> {
    const { rows } = await this.#pool.query<EntryRow>({
      name: 'read-source-directory',
      text: `select s.source_key, s.source_id, s.name, s.built_in, s.attended, s.second_identifier_required,
                    s.synchronised, s.zone, s.application, s.facility,
                    encode(s.certificate_sha256, 'hex') as certificate, s.default_authority,
                    s.authorities, s.disabled_at is not null as disabled,
                    (select m.version from source_mappings m
                      where m.source_key = s.source_key and m.in_force_at is not null
                      order by m.in_force_at desc limit 1) as mapping
               from sources s`,
    });
    const mappings = await this.#readMappings(rows);
    return rows.map((row) => toEntry(row, mappings.get(mappingName(row)) ?? NO_MAPPING));
  }

  async #readMappings(rows: readonly EntryRow[]): Promise<Map<string, SourceMapping>> {
    const inForce = rows.filter(({ mapping }) => mapping !== null);
    const missing = inForce.filter((row) => !this.#mappings.has(mappingName(row)));
    const known = new Map(this.#mappings);
    if (missing.length > 0) {
      const { rows: read } = await this.#pool.query<{
        source_key: number;
        version: number;
        mapping: SourceMapping;
      }>(
        `select m.source_key, m.version, m.mapping
           from source_mappings m join unnest($1::int[], $2::int[]) as n(source_key, version)
                using (source_key, version)`,
        [missing.map((row) => row.source_key), missing.map((row) => row.mapping)],
      );
      for (const row of read) {
        known.set(mappingName({ ...row, mapping: row.version }), row.mapping);
      }
    }
    const wanted = new Set(inForce.map(mappingName));
    this.#mappings = new Map([...known].filter(([name]) => wanted.has(name)));
    return this.#mappings;
  }
}

function mappingName(row: Pick<EntryRow, 'source_key' | 'mapping'>): string {
  return `${row.source_key}/${String(row.mapping)}`;
}

function toEntry(row: EntryRow, mapping: SourceMapping): Entry {
  return {
    source: {
      sourceKey: row.source_key,
      sourceId: row.source_id,
      name: row.name,
      // The pages' own source is attended, and no peer ever comes as it.
      registered: !row.built_in || row.attended,
      secondIdentifierRequired: row.second_identifier_required,
      synchronised: row.synchronised,
      profile: {
        attended: row.attended,
        zone: row.zone,
        defaultAuthority: row.default_authority,
        authorities: row.authorities ?? {},
        mapping,
      },
    },
    application: row.application,
    facility: row.facility,
    certificateSha256: row.certificate,
    disabled: row.disabled,
  };
}

/**
 * By its certificate where it has one; then what it calls itself must be what is registered, and must
 * not be another's. Without one, from this machine, by what it calls itself; nobody's name is as good
 * as a certificate, so names registered with one do not do without it.
 */
function choosePeer(entries: readonly Entry[], question: PeerQuestion): PeerAnswer {
  const named = mostSpecific(entries, question);
  if (question.certificateSha256 !== null) {
    const own = entries.find((entry) => entry.certificateSha256 === question.certificateSha256);
    if (own === undefined) return refused('certificate-unknown');
    const agrees = named === undefined ? own.application === null : named === own;
    return agrees ? unlessDisabled(own) : refused('names-differ');
  }
  if (!question.loopback) return refused('not-protected');
  if (named !== undefined) {
    return named.certificateSha256 === null
      ? unlessDisabled(named)
      : refused('certificate-missing');
  }
  const builtIn = entries.find(({ source }) => !source.registered);
  if (builtIn === undefined) throw new Error('the source of unregistered peers has vanished');
  return unlessDisabled(builtIn);
}

/** The source registered under these names; the one that names the facility too goes first. */
function mostSpecific(
  entries: readonly Entry[],
  { application, facility }: PeerQuestion,
): Entry | undefined {
  const matching = entries.filter(
    (entry) =>
      isNamed(entry.application, application) &&
      (entry.facility === null || isNamed(entry.facility, facility)),
  );
  const rank = (entry: Entry): number =>
    (entry.facility === null ? 2 : 0) + (entry.application === application.universalId ? 0 : 1);
  return matching.sort((a, b) => rank(a) - rank(b))[0];
}

function isNamed(registered: string | null, { namespace, universalId }: SystemName): boolean {
  return registered !== null && (registered === namespace || registered === universalId);
}

function unlessDisabled(entry: Entry): PeerAnswer {
  return entry.disabled ? refused('disabled') : { found: true, source: entry.source };
}

function refused(reason: PeerRefusal): PeerAnswer {
  return { found: false, reason };
}
