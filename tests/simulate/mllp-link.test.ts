/** The sender's side of MLLP against real sockets (IHE ITI TF-2 C.2: what is not acknowledged is sent again). */
import { readFileSync } from 'node:fs';
import { createServer } from 'node:net';
import type { AddressInfo, Server, Socket } from 'node:net';
import { join } from 'node:path';
import type { SecureContextOptions } from 'node:tls';
import type { ListenerOptions } from '../../src/intake/hl7v2/listener-options.js';
import { MllpLink } from '../../src/simulate/wire/mllp-link.js';
import { closeAll, controlIdOf, eventsOf, openListener } from '../intake/hl7v2/open-listener.js';
import type { TestListener } from '../intake/hl7v2/open-listener.js';
import { message, until } from '../intake/hl7v2/wire-client.js';

const links: MllpLink[] = [];
let told: string[] = [];

function acknowledgement(code: string, controlId: string): Buffer {
  const header = 'MSH|^~\\&|LISTENER||WARD||20261104101501+0100||ACK^R01^ACK|A1|P|2.6';
  return Buffer.from(`${header}\rMSA|${code}|${controlId}\rERR|||207^x^HL70357|E||||not today\r`);
}

async function linkTo(port: number, tls?: SecureContextOptions): Promise<MllpLink> {
  const link = new MllpLink(
    { host: '127.0.0.1', port, ...(tls && { tls }) },
    {
      resent: () => told.push('resent'),
      disconnected: () => told.push('disconnected'),
      stray: (words) => told.push(`stray: ${words}`),
    },
  );
  links.push(link);
  await link.open();
  return link;
}

/** Answers with these codes in turn, and with CA from then on. */
function answering(
  codes: string[] = [],
  options: Partial<ListenerOptions> = {},
): Promise<TestListener> {
  return openListener({
    ...options,
    handle: (bytes) => {
      const code = codes.shift() ?? 'CA';
      const id = controlIdOf(bytes.toString('latin1'));
      return Promise.resolve({ acknowledgements: [acknowledgement(code, id)] });
    },
  });
}

const messageOf = (controlId: string) => ({
  bytes: Buffer.from(message(controlId, 'W-1')),
  controlId,
});

beforeEach(() => {
  told = [];
});
afterEach(async () => {
  for (const link of links.splice(0)) link.close();
  await closeAll();
});

describe('a link over MLLP', () => {
  it('gives back the code and the words of each acknowledgement, over one connection', async () => {
    const listener = await answering(['CA', 'CE', 'AA']);
    const link = await linkTo(listener.port);
    const answers = [];
    for (const id of ['ID-1', 'ID-2', 'ID-3']) answers.push(await link.send(messageOf(id)));
    expect(answers).toMatchObject([
      { code: 'CA', controlId: 'ID-1' },
      { code: 'CE', controlId: 'ID-2', words: 'not today' },
      { code: 'AA', controlId: 'ID-3' },
    ]);
    expect(eventsOf(listener.events, 'opened')).toHaveLength(1);
    expect(told).toEqual([]);
  });

  it('sends the very same bytes again when the connection ends without an answer', async () => {
    let refusals = 2;
    const listener = await openListener({
      handle: (bytes) => {
        if (refusals-- > 0) return Promise.reject(new Error('the database is away'));
        const id = controlIdOf(bytes.toString('latin1'));
        return Promise.resolve({ acknowledgements: [acknowledgement('CA', id)] });
      },
    });
    const link = await linkTo(listener.port);
    expect(await link.send(messageOf('ID-7'))).toMatchObject({ code: 'CA', controlId: 'ID-7' });
    expect(new Set(listener.frames).size).toBe(1);
    expect(listener.frames).toHaveLength(3);
    expect(told.sort()).toEqual(['disconnected', 'disconnected', 'resent', 'resent']);
  });

  it('waits for a listener that comes back, and holds the connection open again by itself', async () => {
    const first = await answering();
    const link = await linkTo(first.port);
    await first.stop();
    await until(() => told.includes('disconnected'));
    const sent = link.send(messageOf('ID-8'));
    const second = await answering([], { port: first.port });
    expect(await sent).toMatchObject({ code: 'CA' });
    expect(second.frames).toHaveLength(1);
  });

  it.each(['goes-on', 'breaks'] as const)(
    'cuts a frame so that it %s, and is acknowledged once, for the whole',
    async (cut) => {
      const listener = await answering();
      const link = await linkTo(listener.port);
      expect(await link.send(messageOf('ID-9'), cut)).toMatchObject({ controlId: 'ID-9' });
      expect(listener.frames).toHaveLength(1);
      expect(eventsOf(listener.events, 'discarded')).toMatchObject([
        { reason: cut === 'goes-on' ? 'cut-by-start-block' : 'unfinished' },
      ]);
      expect(eventsOf(listener.events, 'opened')).toHaveLength(cut === 'goes-on' ? 1 : 2);
      // Broken on purpose: not a connection that was lost.
      expect(told).toEqual([]);
    },
  );

  it('tells of an acknowledgement that no message waits for, and goes on waiting', async () => {
    const listener = await openListener({
      handle: (bytes) => {
        const id = controlIdOf(bytes.toString('latin1'));
        const others = [acknowledgement('CA', 'OTHER'), Buffer.from('MSH|^~\\&|LISTENER\r')];
        return Promise.resolve({ acknowledgements: [...others, acknowledgement('CA', id)] });
      },
    });
    const link = await linkTo(listener.port);
    expect(await link.send(messageOf('ID-10'))).toMatchObject({ controlId: 'ID-10' });
    expect(told).toEqual([
      'stray: CA for another message',
      'stray: a message that acknowledges nothing',
    ]);
  });

  it('tells of an answer to half a message', async () => {
    const [server, port] = await openEager();
    const link = await linkTo(port);
    await Promise.race([link.send(messageOf('ID-11'), 'goes-on'), until(() => told.length > 0)]);
    expect(told).toEqual(['stray: CA for another message']);
    link.close();
    server.close();
  });

  it('shows its certificate to a listener that wants one, and trusts whom it is told to', async () => {
    const pem = (name: string): string =>
      join(__dirname, `../intake/hl7v2/certificates/${name}.pem`);
    const [ca, own] = [readFileSync(pem('server')), readFileSync(pem('monitor'))];
    const listener = await answering([], {
      tls: { certFile: pem('server'), keyFile: pem('server'), caFile: pem('trusted') },
    });
    const link = await linkTo(listener.port, { ca, cert: own, key: own });
    expect(await link.send(messageOf('ID-14'))).toMatchObject({ code: 'CA' });
    await expect(linkTo(listener.port, { cert: own, key: own })).rejects.toThrow();
  });

  it('gives no answer once it is closed, and does not open again', async () => {
    const limits = { stopTimeoutMs: 50 };
    const listener = await openListener({ limits, handle: () => new Promise(() => undefined) });
    const link = await linkTo(listener.port);
    const sent = link.send(messageOf('ID-12'));
    await until(() => listener.frames.length === 1);
    link.close();
    expect(await sent).toBeNull();
    expect(await link.send(messageOf('ID-13'))).toBeNull();
    expect(eventsOf(listener.events, 'opened')).toHaveLength(1);
  });
});

/** A faulty listener: it acknowledges whatever comes first, whole or not. */
async function openEager(): Promise<[Server, number]> {
  const server = createServer((socket: Socket) => {
    socket.on('error', () => undefined);
    socket.once('data', () => {
      socket.write(`\x0b${acknowledgement('CA', 'ID-11').toString()}\x1c\r`);
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return [server, (server.address() as AddressInfo).port];
}
