/** What `npm run simulate` takes: this table is what is read and what `--help` shows. */
import { z } from 'zod';
import { DEVICE_KINDS, PROTOCOLS } from './device.js';
import { FAULTS } from './faults.js';

export interface Option<T> {
  /** What stands for its value in the help; absent: it takes none. */
  readonly shown?: string;
  /** As it would be written. */
  readonly fallback?: string;
  readonly about: string;
  /** Completes “must be …”. */
  readonly allowed: string;
  readonly read: z.ZodType<T, string>;
}

const number = (least: number, most: number) =>
  z
    .string()
    .regex(/^\d+(\.\d+)?$/)
    .transform(Number)
    .pipe(z.number().min(least).max(most));

const whole = (least: number, most: number) => number(least, most).pipe(z.int());

function words<const W extends readonly string[]>(
  list: W,
): z.ZodType<readonly W[number][], string> {
  return z
    .string()
    .transform((text) => [...new Set(text.split(',').map((word) => word.trim()))])
    .pipe(z.array(z.enum(list)).min(1));
}

const text = z.string().min(1);
const anyOf = (list: readonly string[]): string => `some of ${list.join(', ')}, joined by commas`;

export const OPTIONS = {
  devices: {
    shown: 'N',
    fallback: '12',
    about: 'How many devices there are. At each bed there is one of each kind.',
    allowed: 'a whole number from 1 to 10000',
    read: whole(1, 10_000),
  },
  kinds: {
    shown: 'LIST',
    fallback: DEVICE_KINDS.join(','),
    about: 'Which kinds of device.',
    allowed: anyOf(DEVICE_KINDS),
    read: words(DEVICE_KINDS),
  },
  speak: {
    shown: 'LIST',
    fallback: PROTOCOLS.join(','),
    about: 'What they speak, in turn: sets in JSON, HL7 v2 over MLLP, FHIR.',
    allowed: anyOf(PROTOCOLS),
    read: words(PROTOCOLS),
  },
  rate: {
    shown: 'N',
    fallback: '2',
    about:
      'Messages a second, of all devices together; each device sends one in two seconds at most.',
    allowed: 'a number above 0, up to 5000',
    read: number(0.001, 5_000),
  },
  seconds: {
    shown: 'N',
    fallback: '30',
    about: 'How long to measure; 0: until Ctrl-C.',
    allowed: 'a whole number from 0 to 1000000',
    read: whole(0, 1_000_000),
  },
  wait: {
    shown: 'SECONDS',
    fallback: '30',
    about: 'How long to wait after that for what is not answered yet.',
    allowed: 'a whole number from 0 to 3600',
    read: whole(0, 3_600),
  },
  faults: {
    shown: 'SHARE',
    fallback: '0.1',
    about: 'Which share of the messages has a fault, from 0 to 1.',
    allowed: 'a number from 0 to 1',
    read: number(0, 1),
  },
  'fault-kinds': {
    shown: 'LIST',
    fallback: FAULTS.join(','),
    about: 'Which faults, of those below.',
    allowed: anyOf(FAULTS),
    read: words(FAULTS),
  },
  seed: {
    shown: 'N',
    fallback: '1',
    about: 'The same number gives the same devices and faults again.',
    allowed: 'a whole number from 0 to 65535',
    read: whole(0, 65_535),
  },
  gateway: {
    shown: 'URL',
    about: 'Where the gateway is; else where PUBLIC_URL or PORT say it is on this machine.',
    allowed: 'an http or https URL',
    read: z
      .string()
      .refine((url) => URL.canParse(url) && /^https?:/.test(url))
      .transform((url) => url.replace(/\/+$/, '')),
  },
  mllp: {
    shown: 'HOST:PORT',
    about: 'Where its HL7 v2 listener is; else where MLLP_PORT says it is on this machine.',
    allowed: 'a host and a port, such as 127.0.0.1:2575',
    read: z
      .string()
      .regex(/^[^\s:]+:\d{1,5}$|^\[[0-9a-fA-F:]+\]:\d{1,5}$/)
      .transform((place) => {
        const colon = place.lastIndexOf(':');
        return {
          host: place.slice(0, colon).replace(/^\[|\]$/g, ''),
          port: Number(place.slice(colon + 1)),
        };
      }),
  },
  certificate: {
    shown: 'FILE',
    about: 'Client certificate (PEM) for MLLP over TLS; without it MLLP is plain.',
    allowed: 'the path of a file',
    read: text,
  },
  key: {
    shown: 'FILE',
    about: 'The private key of --certificate (PEM).',
    allowed: 'the path of a file',
    read: text,
  },
  authority: {
    shown: 'FILE',
    about:
      'Who has issued the certificate of the listener (PEM), if not one that everybody trusts.',
    allowed: 'the path of a file',
    read: text,
  },
  application: {
    shown: 'NAME',
    fallback: 'SIMULATED_WARD',
    about: 'MSH-3: the sender, as it is registered at the gateway.',
    allowed: 'a name',
    read: text,
  },
  facility: {
    shown: 'NAME',
    fallback: 'LARKFIELD',
    about: 'MSH-4.',
    allowed: 'a name',
    read: text,
  },
  credentials: {
    shown: 'FILE',
    about:
      'Clients to speak as, a JSON list of { clientId, clientSecret }; else SIMULATE_CLIENT_ID and SIMULATE_CLIENT_SECRET, else, for a gateway on this machine, the demo clients in DATA_DIR.',
    allowed: 'the path of a file',
    read: text,
  },
  patients: {
    shown: 'FILE',
    about:
      'A FHIR Bundle of Patients whom the gateway knows; else invented ones are looked up and, where a client may, registered.',
    allowed: 'the path of a file',
    read: text,
  },
} satisfies Record<string, Option<unknown>>;
