import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway, Told } from '../../setup/gateway.js';

/** What an administrator gets back, as far as tests look at it. */
export interface AdminBody {
  readonly source?: string;
  readonly device?: string;
  readonly association?: string;
  readonly version?: number;
  readonly number?: number;
  readonly detail?: string;
  readonly errors?: readonly { readonly pointer: string; readonly message: string }[];
  readonly [member: string]: unknown;
}

export interface RegistryDesk {
  readonly gateway: TestGateway;
  readonly token: string;
  readonly send: (method: string, path: string, body?: unknown) => Promise<Told<AdminBody>>;
  /** What was done to something, in order: action and status. Refused attempts are left out. */
  readonly auditOf: (entity: string) => Promise<unknown[]>;
}

/** A gateway and its administrator. */
export async function openRegistryDesk(): Promise<RegistryDesk> {
  const gateway = await openTestGateway();
  const token = await gateway.token('admin metrics.read');
  return {
    gateway,
    token,
    send: (method, path, body) =>
      gateway.ask<AdminBody>(`/admin${path}`, {
        method,
        token,
        ...(body === undefined ? {} : { body }),
      }),
    async auditOf(entity) {
      const { rows } = await gateway.database.pool.query<{ action: string; outcome: number }>(
        'select action, outcome from audit where entity = $1 and outcome < 400 order by audit_id',
        [entity],
      );
      return rows.map(({ action, outcome }) => [action, outcome]);
    },
  };
}

export function pointersOf({ body }: Told<AdminBody>): string[] {
  return (body.errors ?? []).map(({ pointer }) => pointer);
}
