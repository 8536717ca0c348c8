/** Reads the arguments of `npm run simulate`. */
import { parseArgs } from 'node:util';
import type { z } from 'zod';
import { StartError } from '../errors.js';
import { FAULTS, FAULT_WORDS } from './faults.js';
import { OPTIONS } from './option-table.js';
import type { Option } from './option-table.js';

type Name = keyof typeof OPTIONS;
type Value<N extends Name> =
  | z.output<(typeof OPTIONS)[N]['read']>
  | ((typeof OPTIONS)[N] extends { fallback: string } ? never : undefined);

export type SimulateOptions = { readonly [N in Name]: Value<N> } & {
  /** The tally as one JSON document, and nothing else. */
  readonly json: boolean;
};

const SEE_HELP = 'npm run simulate -- --help shows all options.';

/**
 * Reads the arguments of the command. Null: the help is wanted.
 * @throws StartError with one sentence about the first one that cannot be used.
 */
export function readOptions(args: readonly string[]): SimulateOptions | null {
  const values = parse(args);
  if (values.help === true) return null;
  const read = Object.fromEntries(
    (Object.keys(OPTIONS) as Name[]).map((name) => [name, readOption(name, values[name])]),
  ) as { readonly [N in Name]: Value<N> };
  const options = { ...read, json: values.json === true };
  refuseTogether(options);
  return options;
}

function parse(args: readonly string[]): Record<string, string | boolean | undefined> {
  try {
    const { values } = parseArgs({
      args: [...args],
      options: {
        ...Object.fromEntries(
          Object.keys(OPTIONS).map((name) => [name, { type: 'string' as const }]),
        ),
        json: { type: 'boolean' },
        help: { type: 'boolean', short: 'h' },
      },
    });
    return values;
  } catch (error) {
    const words = error instanceof Error ? error.message.split('. ')[0] : String(error);
    throw new StartError(`${words ?? ''}. ${SEE_HELP}`);
  }
}

function readOption<N extends Name>(name: N, given: string | boolean | undefined): Value<N> {
  const option: Option<unknown> = OPTIONS[name];
  const held = given ?? option.fallback;
  if (held === undefined) return undefined as Value<N>;
  const result = option.read.safeParse(held);
  if (result.success) return result.data as Value<N>;
  throw new StartError(`--${name} holds “${String(held)}”; it must be ${option.allowed}.`);
}

function refuseTogether({ rate, devices, certificate, key }: SimulateOptions): void {
  if (rate > devices / 2) {
    throw new StartError(
      `--rate ${rate} is too much for ${devices} devices, of which each sends one message in two seconds at most; it must be at most ${devices / 2}.`,
    );
  }
  if ((certificate === undefined) !== (key === undefined)) {
    throw new StartError('--certificate and --key are given together or not at all.');
  }
}

const WIDTH = 26;

/** All options, a paragraph each. */
export function helpText(): string {
  const lines = Object.entries(OPTIONS as Record<string, Option<unknown>>).map(
    ([name, { shown, about, fallback }]) => {
      const usage = `  --${name} ${shown ?? ''}`.padEnd(WIDTH);
      return `${usage} ${about}${fallback === undefined ? '' : ` [${fallback}]`}`;
    },
  );
  return [
    'npm run simulate -- [OPTIONS]',
    '',
    'An invented ward: monitors, thermometers, oximeters and cuffs that send to a running gateway,',
    'with faults on purpose. It shows what the gateway answers, and ends with a tally. It ends with',
    'code 1 when a message was lost, or answered in a way that a gateway should not. In brackets: what',
    'counts where an option is left out. Several at once need different seeds.',
    '',
    ...lines,
    `${'  --json'.padEnd(WIDTH)} The tally as one JSON document, and nothing else (npm run --silent simulate).`,
    `${'  --help'.padEnd(WIDTH)} This text.`,
    '',
    'Faults',
    ...FAULTS.map((fault) => `  ${fault.padEnd(WIDTH - 2)} ${FAULT_WORDS[fault]}`),
    '',
  ].join('\n');
}
