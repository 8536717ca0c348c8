/** A source as somebody registers it. */
import { X509Certificate } from 'node:crypto';
import { z } from 'zod';
import type { SourceSettings } from '../../store/sources.js';
import { line, optional, truth, uri, zone } from './forms.js';
import { refuse } from './answers.js';

const MAX_AUTHORITIES = 200;
const MAX_PEM = 16 * 1024;

/** A component of HD (HL7 v2.9.1 §2A.3.34); the caret would make it several. */
const designator = line(180).regex(
  /^[^^|~\\&]*$/,
  'must be one component, the namespace id or the universal id, without ^ | ~ \\ &',
);

const Peer = z.strictObject({ application: designator, facility: optional(designator) });

const Certificate = z
  .strictObject({
    sha256: z
      .string('must be text')
      .regex(
        /^([0-9A-Fa-f]{2}:?){31}[0-9A-Fa-f]{2}$/,
        'must be the SHA-256 of the certificate (DER): 64 hexadecimal digits, colons between pairs allowed',
      )
      .optional(),
    pem: z
      .string('must be text')
      .max(MAX_PEM, `must not be longer than ${MAX_PEM} characters`)
      .optional(),
  })
  .refine(
    ({ sha256, pem }) => (sha256 === undefined) !== (pem === undefined),
    'must hold either "sha256" or "pem"',
  );

export const SourceBody = z.strictObject({
  name: line(200),
  attended: truth,
  secondIdentifierRequired: truth.default(false),
  zone: optional(zone),
  synchronised: truth.default(false),
  peer: optional(Peer),
  certificate: optional(Certificate),
  defaultAuthority: optional(uri),
  authorities: z
    .record(line(180), uri)
    .refine(
      (authorities) => Object.keys(authorities).length <= MAX_AUTHORITIES,
      `must not name more than ${MAX_AUTHORITIES} authorities`,
    )
    .default({}),
});

/** As the store keeps it; throws a 400 for a certificate that is none. */
export function toSettings(body: z.output<typeof SourceBody>): SourceSettings {
  const { peer, certificate, ...rest } = body;
  return {
    ...rest,
    application: peer?.application ?? null,
    facility: peer?.facility ?? null,
    certificateSha256: certificate === null ? null : fingerprintOf(certificate),
  };
}

function fingerprintOf({ sha256, pem }: z.output<typeof Certificate>): string {
  return (sha256 ?? fingerprintOfPem(pem ?? '')).replaceAll(':', '').toLowerCase();
}

function fingerprintOfPem(pem: string): string {
  try {
    return new X509Certificate(pem).fingerprint256;
  } catch {
    // Whatever it is, a private key perhaps: it is neither kept nor repeated.
    throw refuse(400, 'The body is at fault.', [
      { pointer: '/certificate/pem', message: 'must be an X.509 certificate in PEM' },
    ]);
  }
}
