/**
 * A reason for not starting, told in one plain sentence for the person at the console. Whoever
 * composes the process prints the message alone, without a stack, and exits with code 1.
 */
export class StartError extends Error {
  override readonly name: string = 'StartError';
}

/** A configuration variable that cannot be used: the message names it, what it holds and what it may hold. */
export class ConfigError extends StartError {
  override readonly name = 'ConfigError';
}

/** More work waits than the gateway will queue: the sender should try again shortly. */
export class Overloaded extends Error {
  override readonly name = 'Overloaded';
}

/** A search that the database cannot come to an end with in time: it must be narrowed. */
export class SearchTooBroad extends Error {
  override readonly name = 'SearchTooBroad';
}

/** A reading was to be kept on a condition that does not hold: nothing of its submission was kept. */
export class ConditionFailed extends Error {
  override readonly name = 'ConditionFailed';
  /** `several`: its identifiers lead to more than one kept reading; `other`: to one that says something else. */
  readonly reason: 'several' | 'other';
  /** Place of the reading in its submission. */
  readonly index: number;

  constructor(reason: 'several' | 'other', index: number) {
    super('a reading was to be kept on a condition that does not hold');
    this.reason = reason;
    this.index = index;
  }
}

/** Another client is known by this name to the issuer already. */
export class ExternalIdTaken extends Error {
  override readonly name = 'ExternalIdTaken';
}
