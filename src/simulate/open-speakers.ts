/** The connections of a ward: one over MLLP for each device that speaks HL7 v2, some over HTTP for the others. */
import { StartError } from '../errors.js';
import type { Scope } from '../serve/auth/scopes.js';
import type { Protocol, SimulatedDevice } from './device.js';
import { speakFhir } from './speak/speak-fhir.js';
import { speakHl7v2 } from './speak/speak-hl7v2.js';
import { speakJson } from './speak/speak-json.js';
import type { Speaker } from './speak/speaker.js';
import type { Tally } from './tally.js';
import type { Clients } from './wire/clients.js';
import { HttpLink } from './wire/http-link.js';
import { MllpLink } from './wire/mllp-link.js';
import type { MllpEndpoint } from './wire/mllp-link.js';

export interface Receivers {
  readonly gateway: string;
  readonly mllp: MllpEndpoint;
  /** Null: no credentials are known. */
  readonly clients: Clients | null;
  /** MSH-3 and MSH-4. */
  readonly names: { readonly application: string; readonly facility: string };
}

export interface Speakers {
  readonly speakerOf: (device: SimulatedDevice) => Speaker;
  /** What is not answered by now gets no answer. */
  readonly close: () => void;
}

/** A listener has a short list of those who wait to be let in. */
const OPENED_AT_ONCE = 50;

/** @throws StartError when somebody cannot be reached, or may not send. */
export async function openSpeakers(
  devices: readonly SimulatedDevice[],
  receivers: Receivers,
  tally: Tally,
): Promise<Speakers> {
  const links: { readonly close: () => void }[] = [];
  const close = (): void => {
    for (const link of links) link.close();
  };
  const overHttp = (protocol: Protocol, scope: Scope): HttpLink => {
    const { clients, gateway } = receivers;
    if (clients?.may(scope) !== true) {
      throw new StartError(
        `To send ${protocol} a client needs the scope ${scope}, and no client that is known has it.`,
      );
    }
    const link = new HttpLink(gateway, clients, () => (tally.of(protocol).resent += 1));
    links.push(link);
    return link;
  };
  const speaks = (protocol: Protocol): boolean => devices.some((one) => one.speaks === protocol);
  const json = speaks('json') ? speakJson(overHttp('json', 'sets.write')) : null;
  const fhir = speaks('fhir') ? speakFhir(overHttp('fhir', 'system/Observation.c')) : null;
  const hl7v2 = await openMllp(devices, receivers, tally, links).catch((error: unknown) => {
    close();
    throw error;
  });
  const found = (device: SimulatedDevice): Speaker | null | undefined =>
    ({ json, fhir, hl7v2: hl7v2.get(device.eui64) })[device.speaks];
  return {
    speakerOf(device) {
      const speaker = found(device);
      if (!speaker) throw new RangeError(`nobody speaks ${device.speaks}`);
      return speaker;
    },
    close,
  };
}

/** By the EUI-64 of the device. */
async function openMllp(
  devices: readonly SimulatedDevice[],
  { mllp, names }: Receivers,
  tally: Tally,
  links: { readonly close: () => void }[],
): Promise<ReadonlyMap<string, Speaker>> {
  const speakers = new Map<string, Speaker>();
  const counts = tally.of.bind(tally, 'hl7v2');
  const speaking = devices.filter((device) => device.speaks === 'hl7v2');
  for (let from = 0; from < speaking.length; from += OPENED_AT_ONCE) {
    await Promise.all(
      speaking.slice(from, from + OPENED_AT_ONCE).map(async ({ eui64 }) => {
        const link = new MllpLink(mllp, {
          resent: () => (counts().resent += 1),
          disconnected: () => (counts().disconnected += 1),
          stray: (words) => {
            tally.flaw(`the HL7 v2 listener sent ${words}`);
          },
        });
        links.push(link);
        await open(link, mllp);
        speakers.set(eui64, speakHl7v2(link, names));
      }),
    );
  }
  return speakers;
}

async function open(link: MllpLink, { host, port }: MllpEndpoint): Promise<void> {
  try {
    await link.open();
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? String(error.code) : String(error);
    throw new StartError(
      `No HL7 v2 listener can be spoken to at ${host}:${port} (${code}). Name it with --mllp, or leave hl7v2 out of --speak.`,
    );
  }
}
