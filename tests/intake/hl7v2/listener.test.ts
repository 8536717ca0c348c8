import { acknowledge, closeAll, controlIdOf, eventsOf, openListener } from './open-listener.js';
import { frame, message, until } from './wire-client.js';

afterEach(closeAll);

const ADLER = message('1001', 'ADLER', '61');
const BECKER = message('1002', 'BECKER', '142');
const CLASEN = message('1003', 'CLASEN', '88');

// Frames: HL7 v3 Transport Specification: MLLP, Release 2. That a broken one gets no answer, so that its
// sender sends again: IHE ITI TF-2 Appendix C.2 asks for an answer only to a message that was received.
describe('messages on one connection', () => {
  it('are handled and acknowledged one after the other', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    client.send(frame(ADLER));
    expect(await client.acknowledgements(1)).toEqual(['ACK 1001']);
    client.send(frame(BECKER));
    expect(await client.acknowledgements(2)).toEqual(['ACK 1001', 'ACK 1002']);
    expect(client.received).toBe(`${frame('ACK 1001')}${frame('ACK 1002')}`);
    expect(listener.frames).toEqual([ADLER, BECKER]);
  });

  it('are two, though they come in one chunk', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    client.send(frame(ADLER) + frame(BECKER));
    expect(await client.acknowledgements(2)).toEqual(['ACK 1001', 'ACK 1002']);
    expect(listener.frames).toEqual([ADLER, BECKER]);
  });

  it('may be split at every byte', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    const bytes = frame(ADLER);
    for (const byte of bytes) {
      client.send(byte);
      await new Promise(setImmediate);
    }
    expect(await client.acknowledgements(1)).toEqual(['ACK 1001']);
    expect(listener.frames).toEqual([ADLER]);
  });

  it.each([1, 2, 200])('may be split once, %i bytes before the end', async (fromEnd) => {
    const listener = await openListener();
    const client = await listener.connect();
    const bytes = frame(ADLER);
    client.send(bytes.slice(0, -fromEnd));
    await until(() => client.socket.bytesWritten === bytes.length - fromEnd);
    expect(listener.frames).toEqual([]);
    client.send(bytes.slice(-fromEnd) + frame(BECKER));
    await client.acknowledgements(2);
    expect(listener.frames).toEqual([ADLER, BECKER]);
  });

  it('are handed over byte for byte', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    const bytes = Array.from({ length: 256 }, (_, byte) => String.fromCharCode(byte));
    const data = bytes.filter((byte) => byte !== '\x0b' && byte !== '\x1c').join('');
    client.send(frame(data));
    await client.acknowledgements(1);
    expect(listener.frames).toEqual([data]);
  });

  it('may be empty: what to say to that is for the handler', async () => {
    const listener = await openListener({
      handle: (bytes) =>
        Promise.resolve(bytes.length === 0 ? { acknowledgements: [] } : acknowledge(bytes)),
    });
    const client = await listener.connect();
    client.send(frame('') + frame(ADLER));
    expect(await client.acknowledgements(1)).toEqual(['ACK 1001']);
    expect(listener.frames).toEqual(['', ADLER]);
  });

  it('get as many answers as the handler gives, in its order, each framed', async () => {
    const texts = ['MSA|CA|1001', '', 'MSA|AA|1001'];
    const listener = await openListener({
      handle: () => Promise.resolve({ acknowledgements: texts.map((text) => Buffer.from(text)) }),
    });
    const client = await listener.connect();
    client.send(frame(ADLER));
    await client.acknowledgements(3);
    expect(client.received).toBe(texts.map(frame).join(''));
  });
});

describe('a frame that is broken', () => {
  it.each<[string, string, string, string]>([
    ['cut in the middle', `\x0b${ADLER.slice(0, 230)}`, 'cut-by-start-block', ADLER.slice(0, 230)],
    [
      'cut after the patient',
      `\x0b${ADLER.slice(0, 200)}`,
      'cut-by-start-block',
      ADLER.slice(0, 200),
    ],
    ['without its end block', `\x0b${ADLER}\r`, 'cut-by-start-block', `${ADLER}\r`],
    ['with an end block but no carriage return', `\x0b${ADLER}\x1c`, 'end-block-alone', ADLER],
    ['with a line feed after the end block', `\x0b${ADLER}\x1c\n`, 'end-block-alone', ADLER],
    [
      'with an end block within',
      `\x0b${ADLER.slice(0, 99)}\x1c${ADLER.slice(99)}\x1c\r`,
      'end-block-alone',
      ADLER.slice(0, 99),
    ],
  ])('%s is never joined to the next one', async (_, broken, reason, kept) => {
    const discarded: string[] = [];
    const listener = await openListener({
      keepDiscarded: async (one) => {
        await new Promise(setImmediate);
        discarded.push(`${one.reason}: ${one.bytes.toString('latin1')}`);
      },
    });
    const client = await listener.connect();
    client.send(broken + frame(BECKER));
    expect(await client.acknowledgements(1)).toEqual(['ACK 1002']);
    expect(listener.frames).toEqual([BECKER]);
    expect(discarded).toEqual([`${reason}: ${kept}`]);
    client.send(frame(CLASEN));
    expect(await client.acknowledgements(2)).toEqual(['ACK 1002', 'ACK 1003']);
  });

  it('by a start block within its data gives its second half alone', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    client.send(`\x0b${ADLER.slice(0, 150)}\x0b${ADLER.slice(150)}\x1c\r${frame(BECKER)}`);
    await client.acknowledgements(2);
    expect(listener.frames).toEqual([ADLER.slice(150), BECKER]);
    expect(eventsOf(listener.events, 'discarded')).toMatchObject([
      { reason: 'cut-by-start-block', bytes: 150 },
    ]);
  });

  it('by the end of the connection is kept, but not handled', async () => {
    const discarded: string[] = [];
    const listener = await openListener({
      keepDiscarded: (one, peer) => {
        discarded.push(`${peer.connection} ${one.reason}: ${one.bytes.toString('latin1')}`);
        return Promise.resolve();
      },
    });
    const client = await listener.connect();
    client.send(`${frame(ADLER)}\x0b${BECKER}`);
    await client.acknowledgements(1);
    client.socket.end();
    expect(await listener.closed(1)).toEqual(['ended-by-peer']);
    const again = await listener.connect();
    again.send(frame(BECKER));
    await again.acknowledgements(1);
    expect(listener.frames).toEqual([ADLER, BECKER]);
    expect(discarded).toEqual([`1 unfinished: ${BECKER}`]);
  });
});

describe('junk', () => {
  it('is counted and does no harm', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    const junk = ['GET / HTTP/1.1\r\nHost: x\r\n\r\n', '\0'.repeat(1000), `${BECKER}\x1c\r`];
    client.send(`${junk[0]}${frame(ADLER)}${junk[1]}${frame(CLASEN)}${junk[2]}`);
    expect(await client.acknowledgements(2)).toEqual(['ACK 1001', 'ACK 1003']);
    const total = (): number =>
      eventsOf(listener.events, 'junk').reduce((sum, { bytes }) => sum + bytes, 0);
    await until(() => total() >= junk.join('').length);
    expect(total()).toBe(junk.join('').length);
    expect(listener.frames).toEqual([ADLER, CLASEN]);
  });
});

describe('a frame without end', () => {
  it('ends the connection without an answer, after those before it were acknowledged', async () => {
    const listener = await openListener({ limits: { maxFrameBytes: 100_000 } });
    const client = await listener.connect();
    client.send(`${frame(ADLER)}\x0b`);
    const flood = 'OBX|1|NM|'.repeat(20_000);
    while (!client.isEnded) {
      client.send(flood);
      await new Promise((resolve) =>
        client.socket.once('drain', resolve).once('close', resolve).once('end', resolve),
      );
    }
    client.send(frame(BECKER));
    client.socket.end();
    expect(await listener.closed(1)).toEqual(['frame-too-long']);
    expect(client.received).toBe(frame('ACK 1001'));
    expect(listener.frames).toEqual([ADLER]);
    expect(eventsOf(listener.events, 'discarded')).toMatchObject([
      { reason: 'too-long', bytes: 100_000 },
    ]);
  });
});

describe('a handler that fails', () => {
  const failing = new Error('the database is away');

  it('costs the connection, and the sender has no answer to what was not kept', async () => {
    const listener = await openListener({
      handle: (bytes) =>
        controlIdOf(bytes.toString()) === '1002'
          ? Promise.reject(failing)
          : Promise.resolve(acknowledge(bytes)),
    });
    const other = await listener.connect();
    const client = await listener.connect();
    client.send(frame(ADLER) + frame(BECKER) + frame(CLASEN));
    client.socket.once('end', () => client.socket.end());
    expect(await listener.closed(1)).toEqual(['handler-failed']);
    expect(client.received).toBe(frame('ACK 1001'));
    expect(listener.frames).toEqual([ADLER, BECKER]);
    expect(eventsOf(listener.events, 'failed')).toMatchObject([
      { peer: { connection: 2 }, error: failing },
    ]);
    other.send(frame(CLASEN));
    expect(await other.acknowledgements(1)).toEqual(['ACK 1003']);
  });

  it.each<[string, () => Promise<never>]>([
    [
      'by a throw',
      () => {
        throw failing;
      },
    ],
    [
      'by an answer that cannot be framed',
      () =>
        Promise.resolve({ acknowledgements: [Buffer.from('MSA|AA|\x1c\r\x0b')] }) as Promise<never>,
    ],
  ])('%s is no different', async (_, handle) => {
    const listener = await openListener({ handle });
    const client = await listener.connect();
    client.send(frame(ADLER));
    await client.ended();
    client.socket.end();
    expect(await listener.closed(1)).toEqual(['handler-failed']);
    expect(client.received).toBe('');
  });

  it('is told also when it cannot keep what was thrown away', async () => {
    const listener = await openListener({ keepDiscarded: () => Promise.reject(failing) });
    const client = await listener.connect();
    client.send(`\x0b${ADLER}${frame(BECKER)}`);
    await client.ended();
    client.socket.end();
    expect(await listener.closed(1)).toEqual(['handler-failed']);
    expect(listener.frames).toEqual([]);
  });
});

describe('the end of a connection', () => {
  it('comes after the answer, if the handler asks for it', async () => {
    const listener = await openListener({
      handle: (bytes) => Promise.resolve({ ...acknowledge(bytes), close: true }),
    });
    const client = await listener.connect();
    client.send(frame(ADLER) + frame(BECKER));
    await client.ended();
    client.socket.end();
    expect(await listener.closed(1)).toEqual(['closed-by-handler']);
    expect(client.received).toBe(frame('ACK 1001'));
    expect(listener.frames).toEqual([ADLER]);
  });

  it('by a sender that ends its side at once still brings it every answer', async () => {
    const listener = await openListener({
      handle: async (bytes) => {
        await new Promise((resolve) => setTimeout(resolve, 20));
        return acknowledge(bytes);
      },
    });
    const client = await listener.connect();
    client.send(frame(ADLER) + frame(BECKER));
    client.socket.end();
    expect(await client.acknowledgements(2)).toEqual(['ACK 1001', 'ACK 1002']);
    await client.ended();
    expect(await listener.closed(1)).toEqual(['ended-by-peer']);
  });

  it('by a reset touches nobody else, and what had come whole is handled', async () => {
    const gate: (() => void)[] = [];
    const listener = await openListener({
      handle: async (bytes) => {
        if (controlIdOf(bytes.toString()) === '1001')
          await new Promise<void>((resolve) => gate.push(resolve));
        return acknowledge(bytes);
      },
    });
    const other = await listener.connect();
    const client = await listener.connect();
    client.send(frame(ADLER) + frame(BECKER));
    await until(() => gate.length === 1);
    client.socket.resetAndDestroy();
    await client.ended();
    other.send(frame(CLASEN));
    expect(await other.acknowledgements(1)).toEqual(['ACK 1003']);
    gate[0]?.();
    expect(await listener.closed(1)).toEqual(['connection-lost']);
    expect(listener.frames).toEqual([ADLER, CLASEN, BECKER]);
  });

  it('by a sender that says nothing at all is no event of its own kind', async () => {
    const listener = await openListener();
    (await listener.connect()).socket.destroy();
    (await listener.connect()).socket.end();
    (await listener.connect()).socket.resetAndDestroy();
    await listener.closed(3);
    expect(new Set(listener.events.map(({ kind }) => kind))).toEqual(new Set(['opened', 'closed']));
    expect(eventsOf(listener.events, 'opened').map(({ peer }) => peer.connection)).toEqual([
      1, 2, 3,
    ]);
  });
});

describe('events', () => {
  it('tell who and how much, and never what', async () => {
    const listener = await openListener();
    const client = await listener.connect();
    const { localPort: port } = client.socket;
    client.send(`${CLASEN}${frame(ADLER)}\x0b${BECKER}\x1c`);
    await client.acknowledgements(1);
    client.socket.end();
    await listener.closed(1);
    const peer = { address: '127.0.0.1', port, certificateFingerprint: null, connection: 1 };
    const events = listener.events.filter(({ kind }) => kind !== 'junk');
    expect(events).toEqual([
      { kind: 'opened', peer },
      { kind: 'frame', peer, bytes: ADLER.length },
      { kind: 'discarded', peer, reason: 'unfinished', bytes: BECKER.length },
      { kind: 'closed', peer, reason: 'ended-by-peer', errorCode: null },
    ]);
    expect(JSON.stringify(listener.events)).not.toMatch(/ADLER|BECKER|CLASEN|MSH/);
  });
});
