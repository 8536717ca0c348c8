import { startHl7Listener } from '../../../src/intake/hl7v2/listener.js';
import type {
  CloseReason,
  HandlerReply,
  ListenerEvent,
  ListenerOptions,
} from '../../../src/intake/hl7v2/listener-options.js';
import { until, WireClient } from './wire-client.js';

export interface TestListener {
  readonly port: number;
  /** Frames in the order in which they were handed over, as latin1 text. */
  readonly frames: string[];
  readonly events: ListenerEvent[];
  connect(): Promise<WireClient>;
  /** Why the connections ended so far, in order; waits for the first so many. */
  closed(count: number): Promise<CloseReason[]>;
  stop(): Promise<void>;
}

const open: (() => Promise<void>)[] = [];

/** Answers every frame with its control id. */
export function acknowledge(bytes: Buffer): HandlerReply {
  return {
    acknowledgements: [Buffer.from(`ACK ${controlIdOf(bytes.toString('latin1'))}`, 'latin1')],
  };
}

export function controlIdOf(text: string): string {
  return text.split('|')[9] ?? '';
}

export function eventsOf<Kind extends ListenerEvent['kind']>(
  events: readonly ListenerEvent[],
  kind: Kind,
): Extract<ListenerEvent, { kind: Kind }>[] {
  return events.filter((event) => event.kind === kind) as Extract<ListenerEvent, { kind: Kind }>[];
}

/** A listener on a free port of the loopback address, stopped by {@link closeAll}. */
export async function openListener(options: Partial<ListenerOptions> = {}): Promise<TestListener> {
  const frames: string[] = [];
  const events: ListenerEvent[] = [];
  const { handle = (bytes: Buffer) => Promise.resolve(acknowledge(bytes)), ...others } = options;
  const listener = await startHl7Listener({
    host: '127.0.0.1',
    port: 0,
    onEvent: (event) => events.push(event),
    handle: (bytes, peer) => {
      frames.push(bytes.toString('latin1'));
      return handle(bytes, peer);
    },
    ...others,
  });
  open.push(listener.stop);
  const reasons = (): CloseReason[] => eventsOf(events, 'closed').map(({ reason }) => reason);
  return {
    port: listener.port,
    frames,
    events,
    async connect() {
      const client = await WireClient.connect(listener.port);
      open.push(() => {
        client.socket.destroy();
        return Promise.resolve();
      });
      return client;
    },
    async closed(count) {
      await until(() => reasons().length >= count);
      return reasons();
    },
    stop: listener.stop,
  };
}

/** Clients first, then their listener. */
export async function closeAll(): Promise<void> {
  for (const close of open.splice(0).reverse()) await close();
}
