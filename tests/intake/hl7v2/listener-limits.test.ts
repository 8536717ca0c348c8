import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { ListenerStartError } from '../../../src/intake/hl7v2/listener-options.js';
import { PeerLimit, plainAddress } from '../../../src/intake/hl7v2/peer.js';
import type { Peer } from '../../../src/intake/hl7v2/peer.js';
import { closeAll, eventsOf, openListener } from './open-listener.js';
import { frame, message, until } from './wire-client.js';

afterEach(closeAll);

const ADLER = message('1001', 'ADLER');

async function pause(ms: number): Promise<void> {
  await new Promise((resolve) => setTimeout(resolve, ms));
}

describe('time', () => {
  it('is up for a connection on which nothing comes', async () => {
    const listener = await openListener({ limits: { idleTimeoutMs: 400 } });
    const silent = await listener.connect();
    const used = await listener.connect();
    used.send(frame(ADLER));
    await used.acknowledgements(1);
    await Promise.all([silent.ended(), used.ended()]);
    silent.socket.end();
    used.socket.end();
    expect(await listener.closed(2)).toEqual(['idle', 'idle']);
    expect(used.received).toBe(frame('ACK 1001'));
  });

  it.each([
    ['in the middle', ADLER.slice(0, 100)],
    ['before the end block', ADLER],
    ['before the carriage return', `${ADLER}\x1c`],
    ['after the start block', ''],
  ])('is up for a frame that stops %s', async (_, bytes) => {
    const listener = await openListener({ limits: { frameTimeoutMs: 50 } });
    const client = await listener.connect();
    client.send(`\x0b${bytes}`);
    await client.ended();
    client.send(`\x1c\r${frame(ADLER)}`);
    client.socket.end();
    expect(await listener.closed(1)).toEqual(['frame-timed-out']);
    expect(listener.frames).toEqual([]);
    expect(client.received).toBe('');
  });

  it('is up for a frame that trickles, and for frames that are begun over and over', async () => {
    const listener = await openListener({ limits: { frameTimeoutMs: 100 } });
    for (const drop of ['x', '\x0b']) {
      const client = await listener.connect();
      client.send('\x0b');
      while (!client.isEnded) {
        client.send(drop);
        await pause(5);
      }
      client.socket.end();
    }
    expect(await listener.closed(2)).toEqual(['frame-timed-out', 'frame-timed-out']);
  });

  it('begins anew with each whole frame', async () => {
    const listener = await openListener({ limits: { frameTimeoutMs: 1500 } });
    const client = await listener.connect();
    // The end of each frame comes with the beginning of the next: one is unfinished for longer than the time-out.
    client.send('\x0b');
    for (let turn = 0; turn < 20; turn += 1) {
      await pause(100);
      client.send(`${ADLER}\x1c\r\x0b`);
    }
    expect(await client.acknowledgements(20)).toHaveLength(20);
    expect(client.isEnded).toBe(false);
  });

  it('of handling and of waiting in line is not counted', async () => {
    const listener = await openListener({
      limits: { idleTimeoutMs: 600, frameTimeoutMs: 600 },
      handle: async () => {
        if (listener.frames.length < 3) await pause(800);
        return { acknowledgements: [Buffer.from('ACK')] };
      },
    });
    const client = await listener.connect();
    client.send(frame(ADLER) + frame(ADLER) + `\x0b${ADLER.slice(0, 50)}`);
    await client.acknowledgements(2);
    client.send(`${ADLER.slice(50)}\x1c\r`);
    await client.acknowledgements(3);
    expect(listener.frames).toEqual([ADLER, ADLER, ADLER]);
  });
});

describe('connections', () => {
  it('from the same machine are not counted by peer: a whole ward may be behind one program', async () => {
    const listener = await openListener({ limits: { maxConnectionsPerPeer: 1 } });
    const clients = await Promise.all(Array.from({ length: 50 }, () => listener.connect()));
    for (const client of clients) client.send(frame(ADLER));
    await Promise.all(clients.map((client) => client.acknowledgements(1)));
  });

  it('above the limit of all are refused, and taken again when one has ended', async () => {
    const listener = await openListener({ limits: { maxConnections: 2 } });
    const first = await listener.connect();
    const second = await listener.connect();
    const refused = await listener.connect();
    await refused.ended();
    await until(() => eventsOf(listener.events, 'refused').length === 1);
    expect(eventsOf(listener.events, 'refused')).toEqual([
      {
        kind: 'refused',
        reason: 'total-limit',
        address: '127.0.0.1',
        certificateFingerprint: null,
        errorCode: null,
      },
    ]);
    second.send(frame(ADLER));
    await second.acknowledgements(1);
    first.socket.end();
    await listener.closed(1);
    const next = await listener.connect();
    next.send(frame(ADLER));
    await next.acknowledgements(1);
  });

  const from = (address: string, certificateFingerprint: string | null = null): Peer => ({
    address,
    port: 40_000,
    certificateFingerprint,
    connection: 1,
  });

  // Documentation addresses: RFC 5737, RFC 3849.
  it.each([from('192.0.2.7'), from('2001:db8::7'), from('127.0.0.1', 'ab'.repeat(32))])(
    'of %j are counted',
    (peer) => {
      const limit = new PeerLimit(2);
      expect([limit.admit(peer), limit.admit(peer), limit.admit(peer)]).toEqual([
        true,
        true,
        false,
      ]);
      expect(limit.admit({ ...peer, address: '192.0.2.8', certificateFingerprint: null })).toBe(
        true,
      );
      limit.leave(peer);
      expect([limit.admit(peer), limit.admit(peer)]).toEqual([true, false]);
    },
  );

  it('of one certificate are counted together, from wherever', () => {
    const limit = new PeerLimit(1);
    expect(limit.admit(from('192.0.2.7', 'ab'))).toBe(true);
    expect(limit.admit(from('192.0.2.8', 'ab'))).toBe(false);
    expect(limit.admit(from('192.0.2.7', 'cd'))).toBe(true);
    expect(limit.admit(from('192.0.2.7'))).toBe(true);
  });

  it.each([
    ['::ffff:192.0.2.7', '192.0.2.7'],
    ['::FFFF:127.0.0.1', '127.0.0.1'],
    ['192.0.2.7', '192.0.2.7'],
    ['2001:db8::7', '2001:db8::7'],
    ['::1', '::1'],
  ])('from %s come from %s', (address, plain) => {
    expect(plainAddress(address)).toBe(plain);
  });
});

describe('a listener that cannot start', () => {
  it('says which port is taken', async () => {
    const taken = createServer();
    await new Promise<void>((resolve) => taken.listen(0, '127.0.0.1', resolve));
    const { port } = taken.address() as AddressInfo;
    const failure: unknown = await openListener({ port }).catch((error: unknown) => error);
    expect(failure).toBeInstanceOf(ListenerStartError);
    expect((failure as Error).message).toBe(
      `MLLP cannot start: 127.0.0.1:${port} is in use by another program. Set MLLP_PORT to a free one.`,
    );
    await new Promise((resolve) => taken.close(resolve));
  });

  it('says which address this machine does not have', async () => {
    await expect(openListener({ host: '192.0.2.7' })).rejects.toThrow(
      'MLLP cannot start: this machine has no address 192.0.2.7. Set HOST to one that it has.',
    );
  });
});
