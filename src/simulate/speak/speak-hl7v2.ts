import { writeOru } from '../protocols/write-oru.js';
import type { Envelope } from '../protocols/write-oru.js';
import type { MllpLink } from '../wire/mllp-link.js';
import type { Speaker } from './speaker.js';

/** Accepted, by the commit or by the application acknowledgement (HL7 table 0008). */
const ACCEPTED: ReadonlySet<string> = new Set(['CA', 'AA']);

/** ORU^R01 over MLLP, each device on a connection of its own. An acknowledgement tells no verdict. */
export function speakHl7v2(link: MllpLink, names: Omit<Envelope, 'controlId'>): Speaker {
  return {
    write(measurement, id) {
      const controlId = controlIdOf(id);
      const bytes = writeOru(measurement, { ...names, controlId });
      return {
        async deliver(cut) {
          const answer = await link.send({ bytes, controlId }, cut);
          if (answer === null) return null;
          const { code, words } = answer;
          return { code, words, isTaken: ACCEPTED.has(code), verdicts: null, isRepeat: false };
        },
      };
    },
  };
}

/** 20 characters of a UUID: older receivers take no more (from memory). */
function controlIdOf(id: string): string {
  return id.replaceAll('-', '').slice(-20).toUpperCase();
}
