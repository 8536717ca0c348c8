/** The audit trail of this process, with what it tells metrics and log. */
import type { Logger } from 'pino';
import { describeError } from '../serve/http/describe-error.js';
import type { Metrics } from '../serve/operations/metrics.js';
import { AuditTrail } from '../store/audit-trail.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';

/** What either pool writes is chained in the one trail. */
export function composeAudit(
  { pool, readers, names }: { readonly pool: Pool; readonly readers: Pool; readonly names: Names },
  metrics: Metrics,
  log: Logger,
): AuditTrail {
  const trail = new AuditTrail({
    ...{ pool, names, program: 'gateway' },
    onFailure(error) {
      log.error({ error: describeError(error) }, 'the audit trail could not be written, and waits');
    },
    onLost: metrics.countLostLook,
    onSeal({ number, writerId, minuteMs, entries, lastHash }) {
      const minute = new Date(minuteMs).toISOString();
      const hash = lastHash.toString('hex');
      const seal = { number, process: writerId, minute, entries, lastHash: hash };
      log.info({ seal }, 'a minute of the audit trail is sealed');
    },
  });
  trail.attach(readers);
  return trail;
}
