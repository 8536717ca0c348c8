/** The listener for HL7 v2 put together: sockets, messages, metrics and log. */
import type { Logger } from 'pino';
import type { Config } from '../config/config.js';
import { StartError } from '../errors.js';
import { Hl7Messages } from '../deliveries/hl7-messages.js';
import type { MessageServices } from '../deliveries/hl7-messages.js';
import { ListenerStartError } from '../intake/hl7v2/listener-options.js';
import type { ListenerEvent } from '../intake/hl7v2/listener-options.js';
import { startHl7Listener } from '../intake/hl7v2/listener.js';
import type { Hl7Listener } from '../intake/hl7v2/listener.js';
import { describeError } from '../serve/http/describe-error.js';
import type { Metrics } from '../serve/operations/metrics.js';

/** Lines about broken frames a minute: a hostile sender makes as many events as it likes. */
const LOGGED_FRAMES_PER_MINUTE = 30;

/**
 * Listens as configured; null: the site wants no listener, or it would be plain where other machines reach it.
 *
 * @throws StartError when the port is taken or a certificate is none
 */
export async function listenForMessages(
  { host, mllpPort, mllpTls, isLocal }: Config,
  services: MessageServices,
  metrics: Metrics,
  log: Logger,
): Promise<Hl7Listener | null> {
  if (mllpPort === null || (mllpTls === undefined && !isLocal)) return null;
  const messages = new Hl7Messages(services);
  try {
    return await startHl7Listener({
      host,
      port: mllpPort,
      tls: mllpTls,
      handle: (frame, peer) => messages.handle(frame, peer),
      keepDiscarded: (frame, peer) => messages.keepDiscarded(frame, peer),
      onEvent: tellEvents(metrics, log),
    });
  } catch (error) {
    throw error instanceof ListenerStartError ? new StartError(error.message) : error;
  }
}

function tellEvents(metrics: Metrics, log: Logger): (event: ListenerEvent) => void {
  let minute = 0;
  let logged = 0;
  const mayLog = (): boolean => {
    const now = Math.floor(Date.now() / 60_000);
    if (now !== minute) {
      minute = now;
      logged = 0;
    }
    logged += 1;
    return logged <= LOGGED_FRAMES_PER_MINUTE;
  };
  return (event) => {
    metrics.observeMllp(event);
    switch (event.kind) {
      case 'refused':
        if (mayLog()) log.warn({ ...event }, 'an MLLP connection was refused');
        return;
      case 'discarded': {
        const { reason, bytes, peer } = event;
        if (mayLog()) log.warn({ reason, bytes, address: peer.address }, 'a frame was discarded');
        return;
      }
      case 'failed':
        log.error(
          { error: describeError(event.error), address: event.peer.address },
          'a message could not be kept: the connection is closed without an acknowledgement',
        );
        return;
      case 'accept-failed':
        log.error({ errorCode: event.errorCode }, 'a connection could not be accepted');
        return;
      case 'opened':
      case 'closed':
      case 'frame':
      case 'junk':
        return;
    }
  };
}
