/** The sender's side of the tests: a raw socket, so that every byte is ours. */
import { connect as connectPlain } from 'node:net';
import type { Socket } from 'node:net';

const START = '\x0b';
const END = '\x1c\r';

export const frame = (data: string): string => `${START}${data}${END}`;

/**
 * All frames in a text, by an expression of the whole protocol: start block, data without block bytes, end
 * block, carriage return (HL7 v3 Transport Specification: MLLP, Release 2).
 */
export function readFrames(text: string): string[] {
  const expression = new RegExp(`${START}([^${START}\x1c]*)${END}`, 'g');
  return [...text.matchAll(expression)].map(([, data = '']) => data);
}

/** A message of an invented monitor about an invented patient, as long as such messages are. */
export function message(controlId: string, patient: string, value = '72'): string {
  return [
    `MSH|^~\\&|BEDSIDE^0123456789ABCDEF^EUI-64|LINDENHOF|||20261104101500+0100||ORU^R01^ORU_R01|${controlId}|P|2.6|||AL|NE`,
    `PID|||${patient}^^^LINDENHOF^MR||${patient}^^^^^^L`,
    'OBR|1||4711^BEDSIDE|182777000^monitoring of patient^SCT|||20261104101500+0100',
    `OBX|1|NM|147842^MDC_ECG_HEART_RATE^MDC|1.7.4.147842|${value}|264864^MDC_DIM_BEAT_PER_MIN^MDC|||||F`,
    '',
  ].join('\r');
}

/** Waits for what must come; the time limit of the test is the only one. */
export async function until(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise((resolve) => setTimeout(resolve, 5));
}

export class WireClient {
  readonly socket: Socket;
  #received = '';
  #endBlocks = 0;
  #isEnded = false;

  /** Bytes are latin1 text, one character a byte. */
  constructor(socket: Socket) {
    this.socket = socket;
    socket.on('data', (chunk) => {
      this.#received += chunk.toString('latin1');
      this.#endBlocks += chunk.filter((byte) => byte === 0x1c).length;
    });
    socket.on('end', () => (this.#isEnded = true));
    socket.on('close', () => (this.#isEnded = true));
    socket.on('error', () => (this.#isEnded = true));
  }

  static async connect(port: number): Promise<WireClient> {
    const socket = connectPlain({ port, host: '127.0.0.1', noDelay: true, allowHalfOpen: true });
    await new Promise((resolve) => socket.once('connect', resolve));
    return new WireClient(socket);
  }

  /** Everything that has come, block bytes too. */
  get received(): string {
    return this.#received;
  }

  /** The gateway has ended its side or the connection is gone. */
  get isEnded(): boolean {
    return this.#isEnded;
  }

  send(bytes: string): void {
    this.socket.write(bytes, 'latin1');
  }

  /** Once the first so many acknowledgements have come: all that have come. */
  async acknowledgements(count: number): Promise<string[]> {
    await until(() => this.#endBlocks >= count && this.#received.endsWith(END));
    return readFrames(this.#received);
  }

  async ended(): Promise<void> {
    await until(() => this.#isEnded);
  }
}
