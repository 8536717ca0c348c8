/** What transactions under way have written to the audit trail, so that it is chained once they are committed. */
import type { ClientBase, Pool } from 'pg';
import type { AuditRecord } from './audit-hashes.js';

/** The audit trail of a process, as its transactions see it. */
export interface ActKeeper {
  /** The process as the entries name it; null: it has not been registered yet. */
  readonly writerKey: number | null;
  register(): Promise<unknown>;
  /** These entries are on disk. */
  committed(records: readonly AuditRecord[]): void;
  /** The connection broke at the commit: nobody here knows whether entries are on disk. */
  doubted(): void;
}

interface Act {
  readonly keeper: ActKeeper;
  readonly records: AuditRecord[];
}

const keepers = new WeakMap<Pool, ActKeeper>();
const acts = new WeakMap<ClientBase, Act>();

/** What is written by way of this pool is chained by this keeper. */
export function keepActsOf(pool: Pool, keeper: ActKeeper): void {
  keepers.set(pool, keeper);
}

/** Undefined: nobody chains what is written by way of this pool. */
export function keeperOf(pool: Pool): ActKeeper | undefined {
  return keepers.get(pool);
}

/** A transaction begins on this connection. */
export function beginAct(client: ClientBase, keeper: ActKeeper | undefined): void {
  if (keeper === undefined) acts.delete(client);
  else acts.set(client, { keeper, records: [] });
}

/** The transaction under way on a connection; undefined: none whose entries are chained. */
export function actOf(client: ClientBase): Act | undefined {
  return acts.get(client);
}

/** The transaction is over: committed, rolled back, or nobody knows. */
export function endAct(client: ClientBase, end: 'committed' | 'undone' | 'doubted'): void {
  const act = acts.get(client);
  acts.delete(client);
  if (act === undefined || act.records.length === 0) return;
  if (end === 'committed') act.keeper.committed(act.records);
  if (end === 'doubted') act.keeper.doubted();
}
