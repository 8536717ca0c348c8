import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, get } from 'node:http';
import type { IncomingMessage } from 'node:http';
import { request } from 'node:https';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { text } from 'node:stream/consumers';
import { connect } from 'node:tls';
import { StartError } from '../../../src/errors.js';
import { startHttpServer } from '../../../src/serve/http/listen.js';
import { CERTIFICATE, KEY } from './test-certificate.js';

const LOCAL = { host: '127.0.0.1', port: 0, tls: undefined };
const echo = () => (_req: unknown, res: { end: (text: string) => void }) => {
  res.end('ok');
};

describe('the HTTP server', () => {
  it('tells the port that it took to whoever makes the application', async () => {
    let told = 0;
    const server = await startHttpServer((port) => {
      told = port;
      return echo();
    }, LOCAL);
    expect(told).toBe(server.port);
    expect(await (await fetch(`http://127.0.0.1:${server.port}/`)).text()).toBe('ok');
    await server.stop();
  });

  it('says in one sentence that the port is in use', async () => {
    const other = createServer();
    await new Promise<void>((resolve) => other.listen(0, '127.0.0.1', resolve));
    const { port } = other.address() as AddressInfo;
    const start = startHttpServer(echo, { ...LOCAL, port });
    await expect(start).rejects.toThrow(StartError);
    await expect(start).rejects.toThrow(`127.0.0.1:${port} is in use`);
    other.close();
  });

  it('says that an address is not of this machine', async () => {
    // TEST-NET-1 of RFC 5737 belongs to no machine.
    const start = startHttpServer(echo, { ...LOCAL, host: '192.0.2.1' });
    await expect(start).rejects.toThrow('this machine has no address 192.0.2.1');
  });

  it.each([
    ['http://[/sets', 400, ''],
    ['http://', 400, ''],
    ['http://elsewhere.example/sets', 200, 'ok'],
  ])('takes an absolute address as target, if it is one: %s', async (target, status, body) => {
    let reached = 0;
    const server = await startHttpServer(
      () => (_req, res) => {
        reached += 1;
        res.end('ok');
      },
      LOCAL,
    );
    const answer = await new Promise<IncomingMessage>((resolve) => {
      get({ host: '127.0.0.1', port: server.port, path: target, agent: false }, resolve);
    });
    expect([answer.statusCode, await text(answer)]).toEqual([status, body]);
    expect(reached).toBe(status === 200 ? 1 : 0);
    await server.stop();
  });

  it('finishes what is in flight when it stops, and takes nothing new', async () => {
    let release = (): void => undefined;
    let arrived = (): void => undefined;
    const here = new Promise<void>((resolve) => (arrived = resolve));
    const server = await startHttpServer(
      () => (_req, res) => {
        arrived();
        release = () => res.end('late');
      },
      LOCAL,
    );
    const address = `http://127.0.0.1:${server.port}/`;
    const inFlight = fetch(address);
    await here;
    let stopped = false;
    const stop = server.stop().then(() => {
      stopped = true;
    });
    await expect(fetch(address)).rejects.toThrow();
    expect(stopped).toBe(false);
    release();
    expect(await (await inFlight).text()).toBe('late');
    // The client keeps its connection open; that must not hold the stop up to its bound.
    const hung = new Promise((resolve) => setTimeout(resolve, 5_000, 'hung').unref());
    expect(await Promise.race([stop, hung])).toBeUndefined();
  });
});

describe('HTTPS', () => {
  const folder = mkdtempSync(join(tmpdir(), 'gateway-tls-'));
  const [certFile, keyFile] = [join(folder, 'cert.pem'), join(folder, 'key.pem')];

  beforeAll(() => {
    writeFileSync(certFile, CERTIFICATE);
    writeFileSync(keyFile, KEY);
  });

  afterAll(() => {
    rmSync(folder, { recursive: true });
  });

  it('serves with the certificate, by TLS 1.2 and up', async () => {
    const server = await startHttpServer(echo, { ...LOCAL, tls: { certFile, keyFile } });
    const ca = CERTIFICATE;
    const status = await new Promise((resolve, reject) => {
      request({ host: '127.0.0.1', port: server.port, ca, agent: false }, (res) => {
        res.resume();
        resolve(res.statusCode);
      })
        .on('error', reject)
        .end();
    });
    expect(status).toBe(200);
    const old = connect({
      ...{ host: '127.0.0.1', port: server.port, ca },
      ...{ minVersion: 'TLSv1.1', maxVersion: 'TLSv1.1', ciphers: 'DEFAULT@SECLEVEL=0' },
    });
    await expect(
      new Promise((resolve, reject) => {
        old.once('secureConnect', resolve).once('error', reject);
      }),
    ).rejects.toThrow();
    await server.stop();
  });

  it('says which file is no certificate, or cannot be read', async () => {
    const noPem = join(folder, 'none.pem');
    writeFileSync(noPem, 'nothing');
    const start = (cert: string) =>
      startHttpServer(echo, { ...LOCAL, tls: { certFile: cert, keyFile } });
    await expect(start(noPem)).rejects.toThrow('HTTP_TLS_CERT and HTTP_TLS_KEY');
    await expect(start(join(folder, 'absent'))).rejects.toThrow('HTTP_TLS_CERT names');
  });
});
