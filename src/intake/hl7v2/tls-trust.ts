import type { X509Certificate } from 'node:crypto';
import type { TLSSocket } from 'node:tls';

/** What OpenSSL says of a certificate whose issuer is not in the list; nothing else about it is wrong. */
const ISSUER_NOT_LISTED: readonly unknown[] = [
  'UNABLE_TO_VERIFY_LEAF_SIGNATURE',
  'UNABLE_TO_GET_ISSUER_CERT',
  'UNABLE_TO_GET_ISSUER_CERT_LOCALLY',
];

/**
 * Why a client is not to be let in, as a code of OpenSSL or, without any certificate, NO_CERTIFICATE;
 * undefined if it is trusted: by its authority or by the certificate itself, whatever name it bears (IHE ITI
 * TF-2 §3.19). The handshake has proved that the client has the key to it.
 */
export function findDistrust(
  socket: TLSSocket,
  trusted: readonly X509Certificate[],
): string | undefined {
  const certificate = socket.getPeerX509Certificate();
  if (certificate === undefined) return 'NO_CERTIFICATE';
  if (socket.authorized) return undefined;
  // A text in Node, against its own types.
  const code: unknown = socket.authorizationError;
  const isListed = trusted.some((one) => one.raw.equals(certificate.raw));
  if (isListed && ISSUER_NOT_LISTED.includes(code) && isValidNow(certificate)) return undefined;
  return String(code);
}

/** OpenSSL tells one fault of a certificate, and promises no order. */
function isValidNow({ validFrom, validTo }: X509Certificate): boolean {
  const now = Date.now();
  return Date.parse(validFrom) <= now && now <= Date.parse(validTo);
}
