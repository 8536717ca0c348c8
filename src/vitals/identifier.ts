/** A business identifier: a namespace URI and a value in it. */
export interface Identifier {
  readonly system: string;
  readonly value: string;
}
