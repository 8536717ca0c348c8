import { connect } from 'node:net';
import { acknowledge, closeAll, controlIdOf, openListener } from './open-listener.js';
import { frame, message, until } from './wire-client.js';

afterEach(closeAll);

/** Of any message: enough to fill what the system holds for a connection, with much to spare. */
const BIG = 256 * 1024;

async function pause(ms: number): Promise<void> {
  await new Promise((resolve) => setTimeout(resolve, ms));
}

/** Resolves once a figure has stood still for a while. */
async function standstill(figure: () => number): Promise<number> {
  for (let before = -1; before !== figure();) {
    before = figure();
    await pause(200);
  }
  return figure();
}

describe('a sender that does not wait for answers', () => {
  it('has its messages handled one at a time, in order', async () => {
    let inHand = 0;
    let mostInHand = 0;
    const listener = await openListener({
      handle: async (bytes) => {
        mostInHand = Math.max(mostInHand, (inHand += 1));
        await pause(Math.random() * 2);
        inHand -= 1;
        return acknowledge(bytes);
      },
    });
    const client = await listener.connect();
    const ids = Array.from({ length: 300 }, (_, index) => String(index));
    client.send(ids.map((id) => frame(message(id, `P${id}`))).join(''));
    expect(await client.acknowledgements(300)).toEqual(ids.map((id) => `ACK ${id}`));
    expect(mostInHand).toBe(1);
  });

  it('is slowed down, and its messages are not gathered in memory', async () => {
    const gate: (() => void)[] = [];
    const listener = await openListener({
      handle: async (bytes) => {
        if (listener.frames.length === 1) await new Promise<void>((resolve) => gate.push(resolve));
        return acknowledge(bytes);
      },
    });
    const client = await listener.connect();
    const count = 256;
    for (let id = 0; id < count; id += 1)
      client.send(frame(message(String(id), 'ADLER', '7'.repeat(BIG))));
    await until(() => gate.length === 1);
    // 64 MiB were sent; what the two systems did not take still lies with the sender.
    expect(await standstill(() => client.socket.writableLength)).toBeGreaterThan(40 * 1024 * 1024);
    gate[0]?.();
    const ids = await client.acknowledgements(count);
    expect(ids).toEqual(Array.from({ length: count }, (_, id) => `ACK ${id}`));
  });

  it('does not hold up another', async () => {
    const listener = await openListener({
      handle: (bytes) =>
        controlIdOf(bytes.toString()) === 'slow'
          ? new Promise(() => undefined)
          : Promise.resolve(acknowledge(bytes)),
      limits: { stopTimeoutMs: 50 },
    });
    const slow = await listener.connect();
    slow.send(frame(message('slow', 'ADLER')));
    await until(() => listener.frames.length === 1);
    const quick = await listener.connect();
    quick.send(frame(message('quick', 'BECKER')));
    expect(await quick.acknowledgements(1)).toEqual(['ACK quick']);
    expect(slow.received).toBe('');
  });
});

describe('a sender that never reads its answers', () => {
  const answer = (bytes: Buffer) =>
    Promise.resolve({
      acknowledgements: [Buffer.from(`${controlIdOf(bytes.toString())}|${'x'.repeat(BIG)}`)],
    });
  const count = 256;
  const all = Array.from({ length: count }, (_, id) => frame(message(String(id), 'ADLER'))).join(
    '',
  );

  it('is not read from either, and gets every answer once it reads', async () => {
    const listener = await openListener({ handle: answer });
    const client = await listener.connect();
    client.socket.pause();
    client.send(all);
    await until(() => listener.frames.length > 0);
    const handled = await standstill(() => listener.frames.length);
    expect(handled).toBeLessThan(count / 2);
    client.socket.resume();
    const answers = await client.acknowledgements(count);
    expect(answers.map((text) => text.split('|')[0])).toEqual(
      Array.from({ length: count }, (_, id) => String(id)),
    );
  });

  it('loses its connection after a time', async () => {
    const listener = await openListener({
      handle: answer,
      limits: { idleTimeoutMs: 500, closeTimeoutMs: 50 },
    });
    const client = await listener.connect();
    client.socket.pause();
    client.send(all);
    expect(await listener.closed(1)).toEqual(['acknowledgements-unread']);
    expect(listener.frames.length).toBeLessThan(count / 2);
  });
});

describe('stopping', () => {
  it('finishes and acknowledges the frame in hand, and begins no other', async () => {
    const gate: (() => void)[] = [];
    const listener = await openListener({
      handle: async (bytes) => {
        await new Promise<void>((resolve) => gate.push(resolve));
        return acknowledge(bytes);
      },
    });
    const idle = await listener.connect();
    const busy = await listener.connect();
    for (const { socket } of [idle, busy]) socket.once('end', () => socket.end());
    busy.send(frame(message('1', 'ADLER')) + frame(message('2', 'BECKER')));
    await until(() => gate.length === 1);
    const stopped = listener.stop();
    await idle.ended();
    expect(busy.isEnded).toBe(false);
    gate[0]?.();
    await stopped;
    await busy.ended();
    expect(busy.received).toBe(frame('ACK 1'));
    expect(listener.frames).toHaveLength(1);
    expect(await listener.closed(2)).toEqual(['stopped', 'stopped']);
    await expect(refusalOf(listener.port)).resolves.toBe('ECONNREFUSED');
  });

  it('throws an unfinished frame away', async () => {
    const discarded: string[] = [];
    const listener = await openListener({
      keepDiscarded: ({ bytes }) => {
        discarded.push(bytes.toString());
        return Promise.resolve();
      },
    });
    const client = await listener.connect();
    client.socket.once('end', () => client.socket.end());
    client.send(`${frame(message('1', 'ADLER'))}\x0bMSH|`);
    await client.acknowledgements(1);
    await listener.stop();
    expect(discarded).toEqual(['MSH|']);
  });

  it('does not wait for ever: neither for the handler nor for a sender that will not end', async () => {
    const listener = await openListener({
      handle: () => new Promise(() => undefined),
      limits: { stopTimeoutMs: 50 },
    });
    const hanging = await listener.connect();
    hanging.send(frame(message('1', 'ADLER')));
    await until(() => listener.frames.length === 1);
    const open = await listener.connect();
    await listener.stop();
    await Promise.all([hanging.ended(), open.ended()]);
    expect(hanging.received).toBe('');
    await listener.stop();
  });
});

async function refusalOf(port: number): Promise<string | undefined> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(undefined);
    });
    socket.on('error', (error: NodeJS.ErrnoException) => {
      resolve(error.code);
    });
  });
}
