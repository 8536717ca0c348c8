/** The chain of seals of a site: listed, for keeping elsewhere, and proved. */
import type { ClientBase } from 'pg';
import { AuditFault } from './audit-fault.js';
import { BEFORE_SEALS, sealHash } from './audit-hashes.js';
import type { Seal } from './audit-hashes.js';

const MOST_AT_A_TIME = 2_000;

export interface KeptSeal extends Seal {
  readonly hash: Buffer;
}

interface SealRow {
  seal_number: number;
  writer_id: string;
  minute: Date;
  entries: number;
  last_hash: Buffer;
  sealed_at: Date;
  hash: Buffer;
}

/** All seals after one (0: from the first), in their order, page by page. */
export async function* listSeals(
  client: Pick<ClientBase, 'query'>,
  afterNumber: number,
): AsyncGenerator<KeptSeal> {
  let after = afterNumber;
  for (;;) {
    const { rows } = await client.query<SealRow>(
      `select s.seal_number, w.writer_id, s.minute, s.entries, s.last_hash, s.sealed_at, s.hash
         from audit_seals s join audit_writers w on w.writer_key = s.writer_key
        where s.seal_number > $1 order by s.seal_number limit $2`,
      [after, MOST_AT_A_TIME],
    );
    for (const row of rows) yield toSeal(row);
    const last = rows.at(-1);
    if (last === undefined) return;
    after = last.seal_number;
  }
}

function toSeal(row: SealRow): KeptSeal {
  return {
    number: row.seal_number,
    writerId: row.writer_id,
    minuteMs: row.minute.getTime(),
    entries: row.entries,
    lastHash: row.last_hash,
    sealedMs: row.sealed_at.getTime(),
    hash: row.hash,
  };
}

/** @throws AuditFault when a seal is missing or is not what it was */
export async function verifySeals(client: Pick<ClientBase, 'query'>): Promise<void> {
  let number = 0;
  let hash = BEFORE_SEALS;
  for await (const seal of listSeals(client, 0)) {
    number += 1;
    if (seal.number !== number) throw new AuditFault(`Seal ${number} is gone`);
    hash = sealHash(hash, seal);
    if (!hash.equals(seal.hash)) throw new AuditFault(`Seal ${number} is not what was sealed`);
  }
}
