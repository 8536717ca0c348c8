/** Where tokens are given; assertions are made for this address. */
export const TOKEN_PATH = '/auth/token';
/** Where the keys that verify access tokens are. */
export const JWKS_PATH = '/auth/jwks';
