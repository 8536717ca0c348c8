import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect as connectPlain } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect as connectTls } from 'node:tls';
import type { ConnectionOptions, TLSSocket } from 'node:tls';
import type { Peer } from '../../../src/intake/hl7v2/peer.js';
import { acknowledge, closeAll, eventsOf, openListener } from './open-listener.js';
import type { TestListener } from './open-listener.js';
import { frame, message, until, WireClient } from './wire-client.js';

const FOLDER = join(__dirname, 'certificates');
const pem = (name: string): string => join(FOLDER, `${name}.pem`);
const tls = { certFile: pem('server'), keyFile: pem('server'), caFile: pem('trusted') };
const ADLER = message('1001', 'ADLER');

const sockets: TLSSocket[] = [];

class TlsWireClient extends WireClient {
  declare readonly socket: TLSSocket;
}

afterEach(async () => {
  for (const socket of sockets.splice(0)) socket.destroy();
  await closeAll();
});

/** A client with this certificate; undefined: none. It trusts the listener's. */
function connectAs(
  listener: TestListener,
  name?: string,
  options: ConnectionOptions = {},
): TlsWireClient {
  const own =
    name === undefined ? {} : { cert: readFileSync(pem(name)), key: readFileSync(pem(name)) };
  const ca = readFileSync(pem('server'));
  const socket = connectTls({ host: '127.0.0.1', port: listener.port, ca, ...own, ...options });
  sockets.push(socket);
  return new TlsWireClient(socket);
}

/** By a road of its own: base64 of the PEM, SHA-256 of the DER. */
function fingerprintOf(name: string): string {
  const [, base64 = ''] =
    /BEGIN CERTIFICATE-----([^-]+)-----/.exec(readFileSync(pem(name), 'utf8')) ?? [];
  return createHash('sha256').update(Buffer.from(base64, 'base64')).digest('hex');
}

describe('a client whose certificate is trusted', () => {
  it.each([
    ['by its authority', 'monitor'],
    ['by itself, self-signed', 'self-signed'],
    ['by itself, though its authority is not', 'issued-elsewhere'],
  ])('%s is known by its fingerprint', async (_, name) => {
    const peers: Peer[] = [];
    const listener = await openListener({
      tls,
      handle: (bytes, peer) => {
        peers.push(peer);
        return Promise.resolve(acknowledge(bytes));
      },
    });
    const client = connectAs(listener, name);
    client.send(frame(ADLER));
    expect(await client.acknowledgements(1)).toEqual(['ACK 1001']);
    const { localPort: port } = client.socket;
    expect(peers).toEqual([
      { address: '127.0.0.1', port, certificateFingerprint: fingerprintOf(name), connection: 1 },
    ]);
  });

  it('gets its answer also after it has ended its side', async () => {
    const listener = await openListener({
      tls,
      handle: async (bytes) => {
        await new Promise((resolve) => setTimeout(resolve, 50));
        return acknowledge(bytes);
      },
    });
    const client = connectAs(listener, 'monitor');
    client.send(frame(ADLER));
    client.socket.end();
    expect(await client.acknowledgements(1)).toEqual(['ACK 1001']);
    expect(await listener.closed(1)).toEqual(['ended-by-peer']);
  });

  it('may have so many connections, also from the same machine', async () => {
    const listener = await openListener({ tls, limits: { maxConnectionsPerPeer: 2 } });
    const [first, second] = [connectAs(listener, 'monitor'), connectAs(listener, 'monitor')];
    for (const client of [first, second]) client.send(frame(ADLER));
    await Promise.all([first.acknowledgements(1), second.acknowledgements(1)]);
    const third = connectAs(listener, 'monitor');
    third.send(frame(ADLER));
    await third.ended();
    expect(third.received).toBe('');
    expect(eventsOf(listener.events, 'refused')).toEqual([
      {
        kind: 'refused',
        reason: 'peer-limit',
        address: '127.0.0.1',
        certificateFingerprint: fingerprintOf('monitor'),
        errorCode: null,
      },
    ]);
    const other = connectAs(listener, 'self-signed');
    other.send(frame(ADLER));
    await other.acknowledgements(1);
    first.socket.end();
    await listener.closed(1);
    const next = connectAs(listener, 'monitor');
    next.send(frame(ADLER));
    await next.acknowledgements(1);
  });

  it('shows it anew at each connection: no session is taken up again', async () => {
    const listener = await openListener({ tls });
    for (const maxVersion of ['TLSv1.2', 'TLSv1.3'] as const) {
      const first = connectAs(listener, 'monitor', { maxVersion });
      let session: Buffer | undefined;
      first.socket.on('session', (one: Buffer) => (session = one));
      first.send(frame(ADLER));
      await first.acknowledgements(1);
      session ??= first.socket.getSession();
      const again = connectAs(listener, 'monitor', { maxVersion, ...(session && { session }) });
      again.send(frame(ADLER));
      await again.acknowledgements(1);
      expect(again.socket.isSessionReused()).toBe(false);
    }
  });

  it('cannot change it for another while connected', async () => {
    const listener = await openListener({ tls });
    const client = connectAs(listener, 'monitor', { maxVersion: 'TLSv1.2' });
    client.send(frame(ADLER));
    await client.acknowledgements(1);
    const failure = new Promise((resolve) => {
      client.socket.once('error', resolve);
      client.socket.renegotiate({}, resolve);
    });
    expect(await failure).toMatchObject({ code: 'ERR_SSL_NO_RENEGOTIATION' });
  });

  // IHE ITI TF-2 §3.19.6.2.3 names these for TLS 1.2; the floor is RFC 8996 and RFC 9325.
  it.each([
    ['TLSv1.2', 'DHE-RSA-AES128-GCM-SHA256'],
    ['TLSv1.2', 'ECDHE-RSA-AES128-GCM-SHA256'],
    ['TLSv1.2', 'DHE-RSA-AES256-GCM-SHA384'],
    ['TLSv1.2', 'ECDHE-RSA-AES256-GCM-SHA384'],
    ['TLSv1.3', 'TLS_AES_128_GCM_SHA256'],
  ] as const)('may speak %s with %s', async (version, ciphers) => {
    const listener = await openListener({ tls });
    const client = connectAs(listener, 'monitor', {
      minVersion: version,
      maxVersion: version,
      ciphers,
    });
    client.send(frame(ADLER));
    await client.acknowledgements(1);
    expect(client.socket.getCipher().name).toBe(ciphers);
  });
});

describe('a client that is refused', () => {
  it.each<[string, string | undefined, string]>([
    ['no certificate', undefined, 'NO_CERTIFICATE'],
    [
      'a stranger, of the authority of one that is trusted by itself',
      'stranger',
      'UNABLE_TO_VERIFY_LEAF_SIGNATURE',
    ],
    ['one that has expired', 'expired', 'CERT_HAS_EXPIRED'],
    ['one that was trusted by itself and has expired', 'scrapped', 'CERT_HAS_EXPIRED'],
    ['that of the listener itself', 'server', 'DEPTH_ZERO_SELF_SIGNED_CERT'],
  ])('has %s', async (_, name, errorCode) => {
    const listener = await openListener({ tls });
    const good = connectAs(listener, 'monitor');
    const versions = ['TLSv1.2', 'TLSv1.3'] as const;
    for (const maxVersion of versions) {
      const client = connectAs(listener, name, { maxVersion });
      client.send(frame(ADLER));
      await client.ended();
      expect(client.received).toBe('');
    }
    const certificateFingerprint = name === undefined ? null : fingerprintOf(name);
    const event = {
      kind: 'refused',
      reason: 'certificate',
      address: '127.0.0.1',
      certificateFingerprint,
      errorCode,
    };
    expect(eventsOf(listener.events, 'refused')).toEqual([event, event]);
    expect(listener.frames).toEqual([]);
    good.send(frame(ADLER));
    expect(await good.acknowledgements(1)).toEqual(['ACK 1001']);
  });

  it.each<[string, ConnectionOptions, string]>([
    [
      'TLS 1.1',
      { minVersion: 'TLSv1', maxVersion: 'TLSv1.1', ciphers: 'DEFAULT@SECLEVEL=0' },
      'ERR_SSL_UNSUPPORTED_PROTOCOL',
    ],
    [
      'no forward secrecy',
      { maxVersion: 'TLSv1.2', ciphers: 'AES128-GCM-SHA256' },
      'ERR_SSL_NO_SHARED_CIPHER',
    ],
  ])('speaks %s', async (_, options, errorCode) => {
    const listener = await openListener({ tls });
    const client = connectAs(listener, 'monitor', options);
    client.send(frame(ADLER));
    await client.ended();
    expect(eventsOf(listener.events, 'refused')).toMatchObject([
      { reason: 'handshake', errorCode },
    ]);
    expect(client.received).toBe('');
    expect(listener.frames).toEqual([]);
  });

  it.each([
    ['speaks plainly', frame(ADLER), 'ERR_SSL_WRONG_VERSION_NUMBER'],
    ['says nothing', '', 'ERR_TLS_HANDSHAKE_TIMEOUT'],
  ])('%s', async (_, bytes, errorCode) => {
    const listener = await openListener({ tls, limits: { handshakeTimeoutMs: 500 } });
    const client = new WireClient(connectPlain({ host: '127.0.0.1', port: listener.port }));
    client.send(bytes);
    await client.ended();
    expect(eventsOf(listener.events, 'refused')).toEqual([
      {
        kind: 'refused',
        reason: 'handshake',
        address: '127.0.0.1',
        certificateFingerprint: null,
        errorCode,
      },
    ]);
    expect(listener.frames).toEqual([]);
    client.socket.destroy();
  });
});

describe('stopping', () => {
  it('ends connections, also one that is in the handshake and one whose handler hangs', async () => {
    const listener = await openListener({
      tls,
      handle: () => new Promise(() => undefined),
      limits: { stopTimeoutMs: 50 },
    });
    const shaking = new WireClient(connectPlain({ host: '127.0.0.1', port: listener.port }));
    const hanging = connectAs(listener, 'monitor');
    hanging.send(frame(ADLER));
    await until(() => listener.frames.length === 1);
    await listener.stop();
    await Promise.all([shaking.ended(), hanging.ended()]);
    expect(hanging.received).toBe('');
  });
});

describe('files', () => {
  let folder = '';
  const written = (name: string, text: string): string => {
    writeFileSync(join(folder, name), text);
    return join(folder, name);
  };
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'mllp-tls-'));
  });
  afterAll(() => {
    rmSync(folder, { recursive: true });
  });

  it.each<[string, () => Partial<typeof tls>, string]>([
    [
      'that are not there',
      () => ({ certFile: '/nowhere/c.pem' }),
      'MLLP_TLS_CERT names /nowhere/c.pem, which cannot be read.',
    ],
    [
      'that are not there',
      () => ({ caFile: '/nowhere/a.pem' }),
      'MLLP_TLS_CA names /nowhere/a.pem, which cannot be read.',
    ],
    [
      'with no key',
      () => ({ keyFile: written('key.pem', 'key') }),
      'MLLP_TLS_CERT and MLLP_TLS_KEY are not a certificate and its key in PEM.',
    ],
    [
      'with the key of another',
      () => ({ keyFile: pem('monitor') }),
      'MLLP_TLS_CERT and MLLP_TLS_KEY are not a certificate and its key in PEM.',
    ],
    // Without this, whoever has a certificate of a public authority would be let in.
    ['with nobody to trust', () => ({ caFile: written('nobody.pem', '\n') }), 'MLLP_TLS_CA names'],
    [
      'with a torn certificate',
      () => ({
        caFile: written('torn.pem', readFileSync(pem('trusted'), 'utf8').replace(/MII[^\n]+/, '')),
      }),
      'MLLP_TLS_CA names',
    ],
  ])('%s keep it from starting, and are named', async (_, wrong, sentence) => {
    await expect(openListener({ tls: { ...tls, ...wrong() } })).rejects.toThrow(sentence);
  });
});
