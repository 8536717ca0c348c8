/**
 * The corpus: invented sets, each as a sender would send it, with what must be said of it. The
 * expectations were written from the published tables and the words of the rules. Whoever changes one
 * names it in CHANGELOG.md: somebody's chart would read differently from then on.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type {
  DeviceFacts,
  IdentityClaim,
  JudgingFacts,
  RegisteredPatient,
} from '../../src/vitals/shapes.js';
import type {
  HoldKind,
  Interpretation,
  ObservationStatus,
  Part,
  Verdict,
} from '../../src/vitals/words.js';

interface ExpectedReading {
  readonly index: number;
  readonly verdict: Verdict;
  readonly hold?: HoldKind;
  /** The status under which it goes out at once; null: it does not. */
  readonly status: ObservationStatus | null;
  readonly interpretation?: Readonly<Partial<Record<Part, Interpretation>>>;
  /** It arrived so long after it was taken that it is marked as no present value. */
  readonly late?: boolean;
}

interface ExpectedFinding {
  readonly rule: string;
  readonly verdict: Verdict;
  /** None: about each reading of the set. */
  readonly readings: readonly number[];
  readonly liftedBy?: string;
}

/** What must be said of one set. Readings of earlier sets are named "set/reading", counted from 0. */
export interface Expectation {
  readonly verdict: Verdict;
  readonly readings: readonly ExpectedReading[];
  /** In no order. */
  readonly findings: readonly ExpectedFinding[];
  /** Earlier readings whose hold ends. */
  readonly resolved?: readonly string[];
  /** Earlier readings that go out unconfirmed because a critical value contradicts them. */
  readonly published?: readonly string[];
  /** Readings that another set brought already: kept once. */
  readonly linked?: readonly number[];
}

/** What the gateway knows of a device, its times as people write them. */
interface CorpusDevice {
  readonly device: DeviceFacts['device'];
  readonly registered?: DeviceFacts['registered'];
  readonly associations?: readonly {
    readonly from: string;
    readonly to?: string;
    readonly ofThisPatient: boolean;
  }[];
  readonly clock?: { readonly offsetMs: number; readonly seenAt: string };
}

export interface CorpusSet {
  readonly receivedAt: string;
  /** Absent: a person stands by each reading, and one identifier is enough. */
  readonly source?: JudgingFacts['source'];
  readonly encounterOfAnother?: boolean;
  /** The message of a device brought it: how it says whose it is. Absent: a body of `POST /sets`. */
  readonly claim?: IdentityClaim;
  readonly devices?: readonly CorpusDevice[];
  /** As it was sent; out of a message, as its reader delivers it. */
  readonly set: unknown;
  readonly expect: Expectation;
}

/** The sets of one patient, in the order in which they arrived. */
export interface CorpusCase {
  readonly name: string;
  /** Null: the register does not know the patient. */
  readonly patient: RegisteredPatient | null;
  /** Numbers that the site has changed. */
  readonly settings?: Readonly<Record<string, number>>;
  readonly sets: readonly CorpusSet[];
}

export interface CorpusTheme {
  readonly theme: string;
  readonly about: string;
  readonly cases: readonly CorpusCase[];
}

export function deviceFacts(devices: readonly CorpusDevice[]): readonly DeviceFacts[] {
  return devices.map(({ device, registered = null, associations = [], clock }) => ({
    device,
    registered,
    associations: associations.map(({ from, to, ofThisPatient }) => ({
      fromMs: Date.parse(from),
      toMs: to === undefined ? null : Date.parse(to),
      ofThisPatient,
    })),
    clock:
      clock === undefined ? null : { offsetMs: clock.offsetMs, seenAtMs: Date.parse(clock.seenAt) },
  }));
}

/** Every file of the corpus. */
export function readCorpus(): readonly CorpusTheme[] {
  return readdirSync(__dirname)
    .filter((name) => name.endsWith('.json'))
    .map((name) => JSON.parse(readFileSync(join(__dirname, name), 'utf8')) as CorpusTheme);
}
