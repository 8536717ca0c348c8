/** What a run came to: counts only, so that a run of any length needs the same room. */
import { PROTOCOLS } from './device.js';
import type { Protocol } from './device.js';
import { FAULTS } from './faults.js';
import type { Fault } from './faults.js';
import { Latencies } from './latencies.js';
import type { Made } from './outcome.js';

/** Named in full; of more there is only the number. */
const MAX_FLAWS_TOLD = 20;

type Counts<Word extends string = string> = Partial<Record<Word, number>>;

interface ProtocolCounts {
  /** Handed over to be sent; a duplicate counts once more. */
  messages: number;
  answered: number;
  lost: number;
  resent: number;
  disconnected: number;
  readonly answers: Counts;
  readonly latencies: Latencies;
}

function add<Word extends string>(counts: Counts<Word>, word: Word): void {
  counts[word] = (counts[word] ?? 0) + 1;
}

function newCounts(): ProtocolCounts {
  const zero = { messages: 0, answered: 0, lost: 0, resent: 0, disconnected: 0 };
  return { ...zero, answers: {}, latencies: new Latencies() };
}

export class Tally {
  readonly #protocols = new Map<Protocol, ProtocolCounts>();
  readonly #made = new Map<Fault | 'none', Counts<Made>>();
  readonly #flaws: string[] = [];
  #flawCount = 0;
  #skipped = 0;

  /** The counts of a protocol, to be added to. */
  of(protocol: Protocol): ProtocolCounts {
    const there = this.#protocols.get(protocol) ?? newCounts();
    this.#protocols.set(protocol, there);
    return there;
  }

  answered(protocol: Protocol, code: string, latencyMs: number | null): void {
    const counts = this.of(protocol);
    counts.answered += 1;
    add(counts.answers, code);
    if (latencyMs !== null) counts.latencies.add(latencyMs);
  }

  /** A device had so many messages waiting that it did not measure. */
  skipped(): void {
    this.#skipped += 1;
  }

  made(fault: Fault | null, made: Made): void {
    const name = fault ?? 'none';
    const counts = this.#made.get(name) ?? {};
    add(counts, made);
    this.#made.set(name, counts);
  }

  flaw(words: string): void {
    this.#flawCount += 1;
    if (this.#flaws.length < MAX_FLAWS_TOLD) this.#flaws.push(words);
  }

  /** Of all protocols together. */
  total(what: 'messages' | 'answered' | 'lost'): number {
    return sum([...this.#protocols.values()].map((counts) => counts[what]));
  }

  report(seconds: number): TallyReport {
    const protocols = PROTOCOLS.flatMap((protocol) => {
      const counts = this.#protocols.get(protocol);
      return counts === undefined ? [] : [[protocol, reportOf(counts)] as const];
    });
    const faults = [...FAULTS, 'none' as const].flatMap((fault) => {
      const made = this.#made.get(fault);
      return made === undefined
        ? []
        : [[fault, { messages: sum(Object.values(made)), made }] as const];
    });
    const [answered, lost] = [this.total('answered'), this.total('lost')];
    return {
      seconds: round(seconds),
      messages: this.total('messages'),
      answered,
      answeredPerSecond: round(answered / Math.max(seconds, 0.001)),
      lost,
      notMeasured: this.#skipped,
      protocols: Object.fromEntries(protocols),
      faults: Object.fromEntries(faults),
      unexplained: { count: this.#flawCount, examples: this.#flaws },
      isGood: lost === 0 && this.#flawCount === 0,
    };
  }
}

export interface ProtocolReport extends Omit<ProtocolCounts, 'latencies'> {
  /** From the moment at which a message was due to that of its answer. */
  readonly latencyMs: {
    readonly p50: number | null;
    readonly p99: number | null;
    readonly longest: number;
  };
}

export interface FaultReport {
  readonly messages: number;
  readonly made: Counts<Made>;
}

export interface TallyReport {
  readonly seconds: number;
  readonly messages: number;
  readonly answered: number;
  readonly answeredPerSecond: number;
  /** Measured, and never answered. */
  readonly lost: number;
  readonly notMeasured: number;
  readonly protocols: Partial<Record<Protocol, ProtocolReport>>;
  readonly faults: Partial<Record<Fault | 'none', FaultReport>>;
  readonly unexplained: { readonly count: number; readonly examples: readonly string[] };
  readonly isGood: boolean;
}

function reportOf({ latencies, ...counts }: ProtocolCounts): ProtocolReport {
  return {
    ...counts,
    latencyMs: {
      p50: rounded(latencies.centile(0.5)),
      p99: rounded(latencies.centile(0.99)),
      longest: round(latencies.longestMs),
    },
  };
}

function sum(numbers: readonly number[]): number {
  return numbers.reduce((total, number) => total + number, 0);
}

function rounded(ms: number | null): number | null {
  return ms === null ? null : round(ms);
}

function round(number: number): number {
  return Math.round(number * 10) / 10;
}
