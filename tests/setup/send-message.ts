import { connect } from 'node:net';

/** Sends one message in a frame and resolves with what is answered until the connection ends. */
export async function sendMessage(port: number, segments: readonly string[]): Promise<string> {
  const frame = Buffer.concat([
    Buffer.from([0x0b]),
    Buffer.from(`${segments.join('\r')}\r`),
    Buffer.from([0x1c, 0x0d]),
  ]);
  return new Promise((resolve, reject) => {
    let told = '';
    const socket = connect(port, '127.0.0.1', () => {
      socket.end(frame);
    });
    socket.on('data', (chunk: Buffer) => {
      told += chunk.toString('latin1');
    });
    socket.on('close', () => {
      resolve(told);
    });
    socket.on('error', reject);
  });
}

/** A time as HL7 v2 writes it (v2.9.1 §2.A.22), in UTC. */
export function hl7Time(epochMs: number): string {
  return `${new Date(epochMs).toISOString().replaceAll(/[-:T]/g, '').slice(0, 14)}+0000`;
}
