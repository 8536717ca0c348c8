/**
 * The page's way to the gateway, with or without a network. What the page shows hangs on these words
 * alone; who answers, where sets wait and how tokens come and go is behind them.
 */
import type { Fault, Identifier, IncomingReading, IncomingSet } from '../../vitals/incoming.js';
import type {
  AbsentReason,
  ConsciousnessCode,
  Gender,
  Interpretation,
  Part,
  Verdict,
  Vital,
} from '../../vitals/words.js';

export interface SignedInPerson {
  readonly identifier: Identifier;
  /** As it is shown. */
  readonly name: string;
  /**
   * `gateway`: it has just said so. `this-device`: there is no network, and this person was the last one
   * signed in here; after an idle time the page asks by hand whether it still is.
   */
  readonly saidBy: 'gateway' | 'this-device';
  /** Nobody has touched the page for the idle time since the gateway last said who this is. */
  readonly wasIdle: boolean;
}

/** A patient of the register, with what is confirmed by hand and what judging needs. */
export interface FoundPatient {
  /** The one asked for, with its system. */
  readonly identifier: Identifier;
  /** Further identifiers of the same person, to be confirmed beside the birth date. */
  readonly others: readonly Identifier[];
  readonly familyName: string | null;
  readonly givenNames: readonly string[];
  /** FHIR date: YYYY, YYYY-MM or YYYY-MM-DD. */
  readonly birthDate: string | null;
  readonly gender: Gender;
}

/** What the site wants the page to offer first. Known without a network once it was read. */
export interface SiteDefaults {
  /** IANA name of the site's time zone. */
  readonly zone: string;
  /** UCUM code offered first, by sign. */
  readonly units: Readonly<Partial<Record<Vital, string>>>;
  /** Kinds of patient identifiers, the usual one first; `system` goes into the set. */
  readonly identifierSystems: readonly { readonly system: string; readonly label: string }[];
  /** Without a touch for so long the page shows no patient. */
  readonly idleMinutes: number;
}

/** A set as the page makes it: as `POST /sets` takes it, without a recorder. */
export type SetJson = Omit<IncomingSet, 'recorder' | 'readings'> & {
  readonly readings: readonly Omit<IncomingReading, 'index' | 'report'>[];
};

/** One reading of an answer; a check has no ids and no version. */
export interface AnsweredReading extends Readonly<Partial<Record<Part, number>>> {
  readonly index: number;
  readonly reading?: string;
  readonly version?: number;
  readonly receivedBefore?: boolean;
  readonly vital: Vital;
  readonly verdict: Verdict;
  readonly observation?: string;
  readonly unit?: string;
  readonly code?: ConsciousnessCode;
  readonly absent?: AbsentReason;
  readonly entered?: Readonly<Record<string, number | string>>;
  readonly interpretation?: Interpretation | Readonly<Partial<Record<Part, Interpretation>>>;
}

export interface AnsweredFinding {
  readonly rule: string;
  readonly verdict: Exclude<Verdict, 'accepted'>;
  /** By index; empty: each reading of the set. */
  readonly readings: readonly number[];
  readonly message: string;
  readonly advice: string;
  readonly figures?: Readonly<Record<string, number | string>>;
  readonly source: string;
}

/** The answer to a set, checked or sent, as `schemas/answer.schema.json` has it. */
export interface SetAnswer {
  readonly setId: string;
  readonly submission?: string;
  readonly verdict: Verdict;
  readonly readings: readonly AnsweredReading[];
  readonly findings: readonly AnsweredFinding[];
  readonly edition: string;
}

/** RFC 9457 problem document. */
export interface Problem {
  readonly status: number;
  readonly title?: string;
  readonly detail: string;
  readonly errors?: readonly Fault[];
}

/** Either an answer or the faults of form that kept it from being judged, and who says so. */
export type CheckedAnswer = { readonly by: 'gateway' | 'this-device' } & (
  { readonly answer: SetAnswer } | { readonly faults: readonly Fault[] }
);

/** Why a set waits: it goes by itself when that is over, save that somebody must sign in first. */
export type WaitingReason = 'no-network' | 'gateway-busy' | 'sign-in-needed';

export type SendOutcome =
  /** The gateway has said what becomes of it; 201 and 422 are on its disk. */
  | { readonly state: 'answered'; readonly status: 201 | 422; readonly answer: SetAnswer }
  /** It will not take it as it is: kept here until the person decides (`outbox.takeOut`). */
  | { readonly state: 'refused'; readonly status: number; readonly problem: Problem }
  | { readonly state: 'waiting'; readonly why: WaitingReason }
  /** Neither kept on this device nor sent: it is only in the form. */
  | {
      readonly state: 'not-kept';
      readonly why: 'storage-full' | 'storage-denied' | 'sign-in-needed';
    };

/** A set of the person signed in that still lies on this device. */
export interface WaitingSet {
  readonly setId: string;
  readonly set: SetJson;
  /** When it was kept here (RFC 3339). */
  readonly keptAt: string;
  /** What the gateway said to it; null: it has not been asked yet. */
  readonly refusal: Problem | null;
}

/** As `schemas/own-decision.schema.json`; `expectedVersion` is that of the reading as it was shown. */
export interface OwnDecision {
  readonly action: 'correct' | 'withdraw';
  readonly reason: string;
  readonly reasonCode: string;
  readonly expectedVersion: number;
  readonly reading?: SetJson['readings'][number];
}

export type DecideOutcome =
  | { readonly state: 'done'; readonly answer: SetAnswer }
  | { readonly state: 'refused'; readonly status: number; readonly problem: Problem }
  | { readonly state: 'not-sent'; readonly why: WaitingReason };

/** One part of a reading against its known value. */
export interface PracticePart {
  readonly part: Part;
  readonly setValue: number;
  readonly read: number;
  readonly difference: number;
  readonly differencePercent: number;
  readonly tolerance: object;
  readonly passed: boolean;
}

export type PracticeOutcome =
  | {
      readonly state: 'compared';
      readonly passed: boolean;
      readonly parts: readonly PracticePart[];
    }
  | { readonly state: 'refused'; readonly problem: Problem }
  | { readonly state: 'not-sent'; readonly why: WaitingReason };

export type PracticeSetValue = Readonly<Partial<Record<Part, number | string>>> & {
  readonly unit?: string;
};

export type FindOutcome =
  | FoundPatient
  /** The register has nobody of that identifier. */
  | 'unknown'
  /** Several people have that value under different systems: ask again with the system. */
  | 'ambiguous'
  | 'no-network'
  /** Signed out, or not allowed to look patients up. */
  | 'not-allowed'
  /** Asked too often; try again in a minute. */
  | 'too-many';

/** How this device's clock stood against the gateway's. */
export interface ClockState {
  /** This device's clock minus the gateway's, in ms, as last seen; null: not seen yet. */
  readonly aheadMs: number | null;
  /** It was moved while the page was open. */
  readonly steppedMs: number;
}

type Stop = () => void;

export interface Door {
  /** Null: nobody; the page goes to `signInAddress`. */
  signedIn(): Promise<SignedInPerson | null>;
  readonly signInAddress: string;
  /** The person has said by hand, after an idle time, to be still the same: `wasIdle` ends. */
  confirmPerson(): void;
  /** Ends the session here and at the gateway; waiting sets stay. */
  signOut(): Promise<void>;
  /** The site's; before the first contact, the gateway's own. */
  site(): Promise<SiteDefaults>;
  /** Without a system those of the site are tried. */
  findPatient(identifier: {
    readonly system?: string;
    readonly value: string;
  }): Promise<FindOutcome>;
  /**
   * Never throws for a lost network. The device judges without the patient's earlier readings and as if
   * the register agreed with the set.
   */
  check(set: SetJson, patient: FoundPatient | null): Promise<CheckedAnswer>;
  /**
   * Keeps the set on this device first, then sends it and all that wait before it. Calling it again with
   * the same `setId` sends nothing twice.
   */
  send(set: SetJson): Promise<SendOutcome>;
  /** Corrects or withdraws a reading of an own set that was answered. */
  decide(setId: string, index: number, decision: OwnDecision): Promise<DecideOutcome>;
  /** Compares a reading with its known value; kept as a reference check, never charted. */
  practice(
    reading: SetJson['readings'][number],
    setValue: PracticeSetValue,
  ): Promise<PracticeOutcome>;
  /** What is being entered, kept encrypted for this person only: of the page's own form. */
  readonly draft: {
    /** Null: none, or nobody confirmed as its owner since the page was idle. */
    load(): Promise<unknown>;
    /** False: this device keeps nothing just now (storage full or denied). */
    save(draft: object): Promise<boolean>;
    clear(): Promise<void>;
  };
  readonly outbox: {
    /** The sets of the person signed in; those of others are only counted. */
    mine(): Promise<readonly WaitingSet[]>;
    /** Tries at once instead of waiting for the next attempt. */
    sendNow(): Promise<void>;
    /** Takes an own set off this device, to put it right and send it anew under another `setId`, or for good. */
    takeOut(setId: string): Promise<SetJson | null>;
  };
  readonly clock: () => ClockState;
  /** Told at once, and on every change: how many sets wait here, whosever they are. */
  onWaiting(listener: (count: number) => void): Stop;
  /** Told what became of own sets that were sent later. */
  onDelivered(listener: (setId: string, outcome: SendOutcome) => void): Stop;
  /** Nobody has touched the page for the idle time: take the patient off the screen. */
  forgetOnIdle(listener: () => void): Stop;
  /** A newer page is ready; `take` loads it. Call it when nothing is being entered. */
  onNewPage(listener: (take: () => void) => void): Stop;
}
