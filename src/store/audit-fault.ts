/** The audit trail is not what was written. The message, a sentence without its full stop, names the first entry at fault. */
export class AuditFault extends Error {
  override readonly name = 'AuditFault';
}
