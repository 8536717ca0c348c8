import type { SqlValues } from './sql-values.js';

/** An identifier as asked for: null stands for any system, or any value. */
export interface IdentifierToken {
  readonly system: string | null;
  readonly value: string | null;
}

/** The demand that the rows have one of these identifiers as `system` and `value`. */
export function identifiedSql(
  alias: string,
  tokens: readonly IdentifierToken[],
  values: SqlValues,
): string {
  const alternatives = tokens.map(({ system, value }) => {
    const parts = [
      ...(system === null ? [] : [`${alias}.system = ${values.bind(system)}`]),
      ...(value === null ? [] : [`${alias}.value = ${values.bind(value)}`]),
    ];
    return `(${parts.join(' and ')})`;
  });
  return alternatives.length === 0 ? 'false' : `(${alternatives.join(' or ')})`;
}
