/** Editions of rules and limits as they are kept: proposed by one, put into force by another. */
import type { ClientBase, Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { SiteRules } from '../vitals/site-rules.js';
import { insertAudit } from './audit.js';
import type { Origin } from './audit.js';
import { inTransaction } from './transaction.js';

/**
 * An edition comes into force at least this long after its approval is asked for. The approval is
 * committed by then, so whoever reads the editions after a set's receipt sees every one that the set can
 * be judged by; the rest of it is for clocks of processes that differ.
 */
export const LEAD_MS = 2_000;

/** Whatever keeps the approval from being committed for this long rolls it back. */
const APPROVAL_MS = 1_000;

export type EditionState = 'proposed' | 'approved' | 'refused';

/** Who did something: the client, and the person signed in at it. */
export interface Actor {
  readonly clientKey: number;
  readonly personKey: number | null;
  readonly origin?: Origin | undefined;
}

/** A name to show for an actor. */
export interface NamedActor {
  readonly client: string;
  readonly person: Identifier | null;
}

/** Times in ms since the epoch. */
export interface EditionRecord {
  readonly number: number;
  /** The program's own edition that it was made for. */
  readonly program: number;
  /** Empty: the defaults. */
  readonly configuration: Partial<SiteRules>;
  readonly state: EditionState;
  readonly reason: string;
  readonly proposedMs: number;
  /** Null: it came with the program. */
  readonly proposedBy: NamedActor | null;
  readonly wantedFromMs: number | null;
  readonly decidedMs: number | null;
  readonly decidedBy: NamedActor | null;
  readonly decisionReason: string | null;
  /** Minus infinity: from the beginning. Null: not approved. */
  readonly inForceFromMs: number | null;
}

/** From when on an approved edition judges; a list of these is in the order of that time. */
export interface InForce {
  readonly number: number;
  readonly fromMs: number;
}

interface EditionRow {
  edition: number;
  program: number;
  configuration: Partial<SiteRules>;
  state: EditionState;
  reason: string;
  proposed_at: Date;
  wanted_from: Date | null;
  decided_at: Date | null;
  decision_reason: string | null;
  in_force_from: Date | number | null;
  proposer: string | null;
  proposer_system: string | null;
  proposer_value: string | null;
  decider: string | null;
  decider_system: string | null;
  decider_value: string | null;
}

const SELECT = `select e.edition, e.program, e.configuration, e.state, e.reason, e.proposed_at,
    e.wanted_from, e.decided_at, e.decision_reason, e.in_force_from,
    p.name as proposer, pp.system as proposer_system, pp.value as proposer_value,
    d.name as decider, dp.system as decider_system, dp.value as decider_value
  from editions e
  left join clients p on p.client_key = e.proposed_by
  left join people pp on pp.person_key = e.proposed_by_person
  left join clients d on d.client_key = e.decided_by
  left join people dp on dp.person_key = e.decided_by_person`;

/** pg gives the infinities of a timestamp as numbers. */
function msOf(time: Date | number): number {
  return typeof time === 'number' ? time : time.getTime();
}

/** The actor of a row that joins the client and the person; null: nobody stands there. */
export function namedActor(
  client: string | null,
  system: string | null,
  value: string | null,
): NamedActor | null {
  if (client === null) return null;
  return { client, person: system === null || value === null ? null : { system, value } };
}

function toRecord(row: EditionRow): EditionRecord {
  return {
    number: row.edition,
    program: row.program,
    configuration: row.configuration,
    state: row.state,
    reason: row.reason,
    proposedMs: row.proposed_at.getTime(),
    proposedBy: namedActor(row.proposer, row.proposer_system, row.proposer_value),
    wantedFromMs: row.wanted_from?.getTime() ?? null,
    decidedMs: row.decided_at?.getTime() ?? null,
    decidedBy: namedActor(row.decider, row.decider_system, row.decider_value),
    decisionReason: row.decision_reason,
    inForceFromMs: row.in_force_from === null ? null : msOf(row.in_force_from),
  };
}

/** All editions, by number. */
export async function listEditions(pool: Pool): Promise<EditionRecord[]> {
  const { rows } = await pool.query<EditionRow>(`${SELECT} order by e.edition`);
  return rows.map(toRecord);
}

/** The edition of this number; null: there is none. */
export async function findEdition(
  client: ClientBase | Pool,
  number: number,
): Promise<EditionRecord | null> {
  const { rows } = await client.query<EditionRow>(`${SELECT} where e.edition = $1`, [number]);
  return rows[0] === undefined ? null : toRecord(rows[0]);
}

/** The approved editions, in the order in which they come into force. */
export async function readInForce(client: ClientBase | Pool): Promise<InForce[]> {
  const { rows } = await client.query<{ edition: number; in_force_from: Date | number }>({
    name: 'read-in-force',
    text: 'select edition, in_force_from from editions where in_force_from is not null order by in_force_from',
  });
  return rows.map((row) => ({ number: row.edition, fromMs: msOf(row.in_force_from) }));
}

export interface Proposal {
  readonly program: number;
  readonly configuration: Partial<SiteRules>;
  readonly reason: string;
  readonly wantedFromMs: number | null;
}

/** Keeps a proposal under the next number, which it returns. Nothing is judged by it yet. */
export async function proposeEdition(
  pool: Pool,
  by: Actor,
  proposal: Proposal,
  nowMs: number,
): Promise<number> {
  return inTransaction(pool, async (client) => {
    await client.query('lock table editions in share row exclusive mode');
    const { rows } = await client.query<{ edition: number }>(
      `insert into editions (edition, program, configuration, state, reason, proposed_at,
                             proposed_by, proposed_by_person, wanted_from)
       select max(edition) + 1, $1, $2, 'proposed', $3, $4, $5, $6, $7 from editions
       returning edition`,
      [
        proposal.program,
        proposal.configuration,
        proposal.reason,
        new Date(nowMs),
        by.clientKey,
        by.personKey,
        proposal.wantedFromMs === null ? null : new Date(proposal.wantedFromMs),
      ],
    );
    const number = rows[0]?.edition;
    if (number === undefined) throw new Error('a proposal was not kept');
    await audit(client, by, 'edition-propose', 201, number);
    return number;
  });
}

/** What became of a decision about a proposal. */
export type EditionOutcome = 'done' | 'unknown' | 'decided' | 'own' | 'taken' | 'other-program';

export interface Approval {
  readonly reason: string;
  /** From when on; null: as proposed. Never sooner than {@link LEAD_MS} from now. */
  readonly fromMs: number | null;
  /** The program's own edition, for which the configuration must have been made. */
  readonly program: number;
}

/**
 * Puts a proposal into force from a time of receipt on, {@link LEAD_MS} ahead at the soonest.
 * Somebody else than who proposed it must ask.
 */
export async function approveEdition(
  pool: Pool,
  by: Actor,
  number: number,
  approval: Approval,
  clock: () => number,
): Promise<EditionOutcome> {
  return inTransaction(pool, async (client) => {
    await client.query(`set local statement_timeout = ${APPROVAL_MS}`);
    await client.query('lock table editions in share row exclusive mode');
    const proposal = await readProposal(client, number);
    if (proposal === null) return 'unknown';
    if (proposal.state !== 'proposed') return 'decided';
    if (proposal.program !== approval.program) return 'other-program';
    if (isOwn(proposal, by)) return 'own';
    const nowMs = clock();
    const wantedMs = approval.fromMs ?? proposal.wanted_from?.getTime() ?? nowMs;
    const fromMs = Math.max(wantedMs, nowMs + LEAD_MS);
    if ((await readInForce(client)).some((one) => one.fromMs === fromMs)) return 'taken';
    await decide(client, by, number, { state: 'approved', reason: approval.reason, nowMs, fromMs });
    await audit(client, by, 'edition-approve', 200, number);
    if (clock() > nowMs + APPROVAL_MS) throw new Error('an approval took too long to be safe');
    return 'done';
  });
}

/** Closes a proposal; it is never in force. The proposer may do so too. */
export async function refuseEdition(
  pool: Pool,
  by: Actor,
  number: number,
  reason: string,
  nowMs: number,
): Promise<EditionOutcome> {
  return inTransaction(pool, async (client) => {
    await client.query('lock table editions in share row exclusive mode');
    const proposal = await readProposal(client, number);
    if (proposal === null) return 'unknown';
    if (proposal.state !== 'proposed') return 'decided';
    await decide(client, by, number, { state: 'refused', reason, nowMs, fromMs: null });
    await audit(client, by, 'edition-refuse', 200, number);
    return 'done';
  });
}

interface ProposalRow {
  state: EditionState;
  program: number;
  proposed_by: number | null;
  proposed_by_person: number | null;
  wanted_from: Date | null;
}

async function readProposal(client: ClientBase, number: number): Promise<ProposalRow | null> {
  const { rows } = await client.query<ProposalRow>(
    `select state, program, proposed_by, proposed_by_person, wanted_from
       from editions where edition = $1`,
    [number],
  );
  return rows[0] ?? null;
}

/**
 * The same person at another client is the same person; two people at one client, as all are who have
 * signed in with the pages, are two. Where either was a program alone, the clients must differ.
 */
function isOwn(proposal: ProposalRow, by: Actor): boolean {
  return by.personKey === null || proposal.proposed_by_person === null
    ? proposal.proposed_by === by.clientKey
    : proposal.proposed_by_person === by.personKey;
}

async function decide(
  client: ClientBase,
  by: Actor,
  number: number,
  to: { state: EditionState; reason: string; nowMs: number; fromMs: number | null },
): Promise<void> {
  await client.query(
    `update editions set state = $2, decision_reason = $3, decided_at = $4, decided_by = $5,
            decided_by_person = $6, in_force_from = $7 where edition = $1`,
    [
      number,
      to.state,
      to.reason,
      new Date(to.nowMs),
      by.clientKey,
      by.personKey,
      to.fromMs === null ? null : new Date(to.fromMs),
    ],
  );
}

async function audit(
  client: ClientBase,
  by: Actor,
  action: string,
  outcome: number,
  number: number,
): Promise<void> {
  await insertAudit(client, [{ ...by, action, outcome, entity: `editions/${number}` }]);
}
