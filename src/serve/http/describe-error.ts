/** Where libraries and PostgreSQL repeat their input inside a message. */
const QUOTED = /"[^"]*"|'[^']*'|`[^`]*`/g;

/**
 * An error for the log. Its message may quote a patient's data, and PostgreSQL's errors have members
 * that hold whole rows: what stands between quotes is left out, and so is every other member.
 */
export function describeError(error: unknown): Record<string, unknown> {
  if (!(error instanceof Error)) return { type: typeof error };
  const { code } = error as { code?: unknown };
  const frames = error.stack?.split('\n').filter((line) => /^\s+at /.test(line));
  return {
    type: error.name,
    ...(typeof code === 'string' ? { code } : {}),
    message: error.message.replace(QUOTED, '"…"'),
    stack: frames?.join('\n'),
  };
}
