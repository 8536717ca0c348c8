/** An identifier as asked for: null stands for any system, or any value. */
export interface IdentifierToken {
  readonly system: string | null;
  readonly value: string | null;
}
