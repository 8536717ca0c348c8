/** The codes of RFC 6749 §5.2 that this grant can meet. */
export type TokenErrorCode =
  'invalid_request' | 'invalid_client' | 'invalid_scope' | 'unsupported_grant_type';

interface TokenErrorFacts {
  readonly code: TokenErrorCode;
  /** A sentence for whoever runs the client; it tells nothing that the client does not know. */
  readonly description: string;
  /** What the log is told beside: which client, and why. */
  readonly logged?: { readonly clientId?: string; readonly reason: string };
  /** The client that could not prove itself, where there is one of that id: for the audit trail. */
  readonly clientKey?: number | undefined;
  /** The client came with an Authorization header, or with nothing: RFC 6749 §5.2 asks for a challenge. */
  readonly challenged?: true;
}

/** A refusal of the token endpoint. */
export class TokenError extends Error {
  override readonly name = 'TokenError';
  readonly code: TokenErrorCode;
  readonly logged: TokenErrorFacts['logged'];
  readonly clientKey: number | undefined;
  readonly challenged: boolean;

  constructor({ code, description, logged, clientKey, challenged }: TokenErrorFacts) {
    super(description);
    this.code = code;
    this.logged = logged;
    this.clientKey = clientKey;
    this.challenged = challenged === true;
  }
}

export function invalidRequest(description: string): TokenError {
  return new TokenError({ code: 'invalid_request', description });
}

/** A client that an assertion does not prove. */
export function invalidAssertion(
  description: string,
  logged?: TokenErrorFacts['logged'],
  clientKey?: number,
): TokenError {
  const facts = { code: 'invalid_client', description, clientKey } as const;
  return new TokenError(logged === undefined ? facts : { ...facts, logged });
}
