import { constants, createPrivateKey, X509Certificate } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { TlsOptions } from 'node:tls';
import { ListenerStartError } from './listener-options.js';
import type { TlsFiles } from './listener-options.js';

export interface ListenerTls {
  readonly serverOptions: TlsOptions;
  /** What {@link findDistrust} is to be asked with. */
  readonly trusted: readonly X509Certificate[];
}

/** Forward secrecy and authenticated encryption (RFC 9325 §4.2); TLS 1.3 has nothing else. */
const CIPHERS = 'ECDHE+AESGCM:ECDHE+CHACHA20:DHE+AESGCM:DHE+CHACHA20';

const CERTIFICATE = /-----BEGIN CERTIFICATE-----[^-]+-----END CERTIFICATE-----/g;

/**
 * Reads what the listener needs for TLS, 1.2 and up, that asks every client for a certificate.
 * Throws a {@link ListenerStartError} that names the file which cannot be used.
 */
export function readTlsFiles({ certFile, keyFile, caFile }: TlsFiles): ListenerTls {
  const cert = readPem(certFile, 'MLLP_TLS_CERT');
  const key = readPem(keyFile, 'MLLP_TLS_KEY');
  requirePair(cert, key);
  const trusted = readTrusted(caFile);
  const serverOptions: TlsOptions = {
    cert,
    key,
    ca: trusted.map(String),
    requestCert: true,
    // Whom to refuse is decided by `findDistrust` before a byte is read: Node itself would refuse a client
    // whose own certificate is trusted but not its authority, and would not tell whom it refused.
    rejectUnauthorized: false,
    minVersion: 'TLSv1.2',
    ciphers: CIPHERS,
    honorCipherOrder: true,
    dhparam: 'auto',
    // Without tickets no session is resumed: each connection shows a certificate that is checked anew. Without
    // renegotiation it stays with that one.
    secureOptions: constants.SSL_OP_NO_TICKET | constants.SSL_OP_NO_RENEGOTIATION,
  };
  return { serverOptions, trusted };
}

function readPem(file: string, variable: string): string {
  try {
    return readFileSync(file, 'latin1');
  } catch {
    throw new ListenerStartError(`${variable} names ${file}, which cannot be read.`);
  }
}

/** Node would start with the key of another certificate, and fail at every handshake. */
function requirePair(cert: string, key: string): void {
  try {
    if (new X509Certificate(cert).checkPrivateKey(createPrivateKey(key))) return;
  } catch {
    // The sentence below is true for a file that is no PEM at all, too.
  }
  throw new ListenerStartError(
    'MLLP_TLS_CERT and MLLP_TLS_KEY are not a certificate and its key in PEM.',
  );
}

/** Without any certificate in the list Node would trust every public authority instead. */
function readTrusted(file: string): X509Certificate[] {
  const blocks = readPem(file, 'MLLP_TLS_CA').match(CERTIFICATE) ?? [];
  try {
    const certificates = blocks.map((block) => new X509Certificate(block));
    if (certificates.length > 0) return certificates;
  } catch {
    // Told below: to leave one out would lock out clients without a word.
  }
  throw new ListenerStartError(
    `MLLP_TLS_CA names ${file}, which must hold at least one certificate in PEM, and no broken one.`,
  );
}
