/**
 * The shapes that travel along the pipeline, in the order in which they arise:
 * incoming set → normalised set → findings → judged reading → kept reading version.
 * Every protocol fills the first one; nothing after `normalise` knows a protocol.
 */
import type { DeviceReport, IdentityDoubt } from './device-report.js';
import type { ClaimedPatient, Identifier, Moment, ReadingContext } from './incoming.js';
import type { Limits } from './limits.js';
import type {
  AbsentReason,
  CanonicalUnit,
  ConsciousnessCode,
  DerivedKind,
  Gender,
  HoldKind,
  Interpretation,
  Method,
  ObservationStatus,
  Part,
  Position,
  Side,
  Site,
  Verdict,
  Vital,
} from './words.js';

export type * from './incoming.js';

/** A decimal kept exactly: `text` has the digits to store and publish, `number` serves comparison. */
export interface Measured {
  readonly text: string;
  readonly number: number;
}

/** What was typed, kept when the stored value is not that very number and unit. */
export type Entered =
  | { readonly value: string; readonly unit: string }
  | {
      readonly systolic?: string;
      readonly diastolic?: string;
      readonly mean?: string;
      readonly unit: string;
    }
  | { readonly count: number; readonly seconds: number };

/** A reason found by `normalise` why a reading cannot become a value; the rule of that name words it. */
export type ReadingFault = 'unit-unknown' | 'method-not-taken' | 'site-not-taken';

/** One reading in the gateway's own terms: canonical unit, exact decimals, resolved time. */
export interface Reading {
  readonly index: number;
  readonly vital: Vital;
  readonly method: Method | null;
  readonly site: Site | null;
  readonly side: Side | null;
  readonly position: Position | null;
  readonly takenAt: Moment;
  /** Canonical unit of the sign; null for consciousness. */
  readonly unit: CanonicalUnit | null;
  /** Empty when the reading is absent, coded or faulty. */
  readonly values: Readonly<Partial<Record<Part, Measured>>>;
  readonly code: ConsciousnessCode | null;
  readonly absent: AbsentReason | null;
  readonly entered: Entered | null;
  readonly context: ReadingContext;
  readonly device: Identifier | null;
  readonly note: string | null;
  readonly faults: readonly ReadingFault[];
  /** The unit as sent, for the words of a finding. */
  readonly sentUnit: string | null;
  /** Absent: no device's message brought it. */
  readonly report?: DeviceReport;
}

/** How a set says whose it is. */
export interface IdentityClaim {
  /** `named`: the message itself; `association`: whose the device was; `nobody`: neither tells. */
  readonly by: 'named' | 'association' | 'nobody';
  readonly doubts: readonly IdentityDoubt[];
}

/** One set in the gateway's own terms. */
export interface NormalisedSet {
  readonly setId: string;
  readonly patient: ClaimedPatient;
  /** Absent: the set names its patient, without a doubt of its own. */
  readonly claim?: IdentityClaim;
  readonly encounter: Identifier | null;
  readonly recorder: Identifier | null;
  readonly location: string | null;
  readonly takenAt: Moment;
  readonly readings: readonly Reading[];
}

/** What the register knows of a patient. Dates are FHIR dates (YYYY, YYYY-MM or YYYY-MM-DD). */
export interface RegisteredPatient {
  readonly birthDate: string | null;
  readonly familyName: string | null;
  readonly gender: Gender;
}

/** A reading of the same patient that was kept before, for cross-checks across sets. */
export interface EarlierReading extends Reading {
  readonly readingId: string;
  readonly verdict: Verdict;
  readonly hold: HoldKind | null;
  readonly status: ObservationStatus | null;
  /** The findings that hold it, where its value is doubted. */
  readonly doubts?: readonly Finding[];
}

/**
 * A reading of the same patient from the days before, as far as change against it matters. What is held,
 * rejected, withdrawn or not measured is left out where this is read.
 */
export type PastReading = Pick<
  EarlierReading,
  | 'readingId'
  | 'vital'
  | 'method'
  | 'site'
  | 'side'
  | 'position'
  | 'takenAt'
  | 'values'
  | 'device'
  | 'verdict'
> & {
  /** When it arrived, in ms since the epoch. */
  readonly receivedAtMs: number;
};

/** A time in which a device was one patient's. Times in ms since the epoch. */
export interface Association {
  readonly fromMs: number;
  /** Null: it has not ended. */
  readonly toMs: number | null;
  /** It is the patient of the set that is judged. */
  readonly ofThisPatient: boolean;
}

/** What the gateway knows of a device when its readings are judged. */
export interface DeviceFacts {
  readonly device: Identifier;
  /** Null: nobody has registered it. */
  readonly registered: {
    /** Null: any sign. */
    readonly signs: readonly Vital[] | null;
    readonly disabled: boolean;
    /** How far its times may be off, in ms; null: not declared. */
    readonly timeAccuracyMs: number | null;
  } | null;
  /** Oldest first: those that touch the readings' times, and the one that holds at the receipt. */
  readonly associations: readonly Association[];
  /** Device time minus true time, when that was last seen; null: never. */
  readonly clock: { readonly offsetMs: number; readonly seenAtMs: number } | null;
}

/** What the store knows of a set and its patient when the set is judged. */
export interface JudgingFacts {
  readonly set: NormalisedSet;
  readonly receivedAtMs: number;
  /** Null: this identifier is not registered. */
  readonly patient: RegisteredPatient | null;
  /** A person has said whose reading it is: the identity rules have nothing to ask. */
  readonly identitySettled?: boolean;
  /** The encounter is known and belongs to another patient. */
  readonly encounterOfAnother: boolean;
  readonly source: SourceFacts;
  /** Of the devices that the set names, those of which anything is known. */
  readonly devices?: readonly DeviceFacts[];
  /** Other readings of this patient near in time, newest last; never identity-held or rejected ones. */
  readonly earlier: readonly EarlierReading[];
  /** Older readings of this patient, newest last: of each sign of the set the last ones, up to some days. */
  readonly history: readonly PastReading[];
}

/** What is registered of the sender. */
export interface SourceFacts {
  readonly attended: boolean;
  readonly secondIdentifierRequired: boolean;
  /** Its clock is kept by a time service. */
  readonly synchronised?: boolean;
  /** Its clock minus the gateway's, as its last messages showed; absent: not known. */
  readonly skewMs?: number;
}

/** Everything that rules may look at. They have no clock and no numbers of their own: both come in here. */
export interface JudgingContext extends JudgingFacts {
  /** The limits of the edition that is judged by. */
  readonly limits: Limits;
}

/** What one rule said. `readings` empty: about each reading of the set. */
export interface Finding {
  readonly rule: string;
  readonly verdict: Exclude<Verdict, 'accepted'>;
  readonly readings: readonly number[];
  /** Ids of kept readings that the finding also speaks about. */
  readonly earlier?: readonly string[];
  readonly message: string;
  /** The same without values of earlier readings, for a check by a token that is no person's. */
  readonly discreetMessage?: string;
  readonly advice: string;
  readonly figures?: Readonly<Record<string, number | string>>;
  /** Document, section and year that the limit comes from. */
  readonly source: string;
  /** What a `held` finding doubts. */
  readonly hold?: HoldKind;
  /** The part of a pressure that must be published as absent (`error`) because of this finding. */
  readonly partInError?: Part;
  /**
   * Readings of the set that contradict those named here and that this finding does not judge: a
   * disagreement that was resolved for one side stands as two findings, each with the other beside it.
   */
  readonly beside?: readonly number[];
  /** Ids of kept readings whose hold this finding ends. */
  readonly releases?: readonly string[];
  /** The rule could not be worked out: nothing lifts such a hold but a person. */
  readonly failed?: true;
}

/**
 * What is calculated from one version of a reading, in mm[Hg], as it is kept with it. A kind that is
 * absent was never published; null: it was, and this version has it no more.
 */
export type DerivedValues = Readonly<Partial<Record<DerivedKind, string | null>>> & {
  /** What the mean was calculated with, as it is shown. */
  readonly factor?: string;
};

/** One reading with its verdict: what the store keeps and the sender is told. */
export interface JudgedReading {
  readonly reading: Reading;
  readonly verdict: Verdict;
  readonly findings: readonly Finding[];
  readonly interpretation: Readonly<Partial<Record<Part, Interpretation>>>;
  /** Why it is held, the gravest kind first: identity, unit, value. */
  readonly hold: HoldKind | null;
  /** LL, HH or a consciousness other than alert, in this patient's band or in any when the age is unknown. */
  readonly critical: boolean;
  /** What the site wants calculated from it; null: nothing. */
  readonly derived: DerivedValues | null;
  /** The status under which it goes out now; null: not published. */
  readonly status: ObservationStatus | null;
}

/** A set with its verdict. */
export interface JudgedSet {
  readonly verdict: Verdict;
  readonly readings: readonly JudgedReading[];
  readonly findings: readonly Finding[];
  /** Ids of earlier held, unpublished readings that must go out now because they disagree with a critical one. */
  readonly publishEarlier: readonly string[];
  /** Earlier readings whose hold ends because a repeat agrees with them, each with the finding that says so. */
  readonly resolved: readonly { readonly readingId: string; readonly finding: Finding }[];
  readonly edition: number;
}

/** A reading of a set that another submission had brought already: as it was kept, at its place in this set. */
export type LinkedReading = Pick<
  ReadingVersion,
  | 'index'
  | 'readingId'
  | 'version'
  | 'vital'
  | 'verdict'
  | 'status'
  | 'values'
  | 'code'
  | 'absent'
  | 'entered'
  | 'interpretation'
  | 'findings'
>;

/** One kept version of a reading, with everything its renderings need: they are pure functions of it. */
export interface ReadingVersion {
  readonly readingId: string;
  readonly version: number;
  /** Commit stamp in ms since the epoch: FHIR `meta.lastUpdated`. */
  readonly stampMs: number;
  /** Stamp of the version that took this one's place; null while it is the newest. */
  readonly supersededMs: number | null;
  /** When its submission arrived. */
  readonly receivedAtMs: number;
  readonly submissionId: string;
  readonly setId: string | null;
  readonly index: number;
  readonly source: string;
  readonly patient: { readonly id: string; readonly identifier: Identifier };
  readonly encounter: Identifier | null;
  readonly recorder: Identifier | null;
  /** The sending program named the recorder; no person signed in. */
  readonly recorderAsserted: boolean;
  readonly device: Identifier | null;
  readonly location: string | null;
  readonly vital: Vital;
  readonly method: Method | null;
  readonly site: Site | null;
  readonly side: Side | null;
  readonly position: Position | null;
  readonly takenAt: Moment;
  /** Decimal texts in the sign's canonical unit, trailing zeros kept. */
  readonly values: Readonly<Partial<Record<Part, string>>>;
  readonly code: ConsciousnessCode | null;
  readonly absent: AbsentReason | null;
  readonly interpretation: Readonly<Partial<Record<Part, Interpretation>>>;
  readonly derived: DerivedValues | null;
  readonly entered: Entered | null;
  readonly context: ReadingContext;
  readonly note: string | null;
  readonly report?: DeviceReport;
  readonly findings: readonly Finding[];
  readonly verdict: Verdict;
  readonly hold: HoldKind | null;
  readonly holdUntilMs: number | null;
  readonly status: ObservationStatus | null;
  readonly edition: number;
}

/** One version of a panel; all of them are published. What it has in common with a reading is called the same. */
export interface PanelVersion extends Pick<
  ReadingVersion,
  | 'version'
  | 'stampMs'
  | 'supersededMs'
  | 'receivedAtMs'
  | 'setId'
  | 'source'
  | 'patient'
  | 'encounter'
  | 'recorder'
  | 'recorderAsserted'
  | 'takenAt'
  | 'edition'
> {
  readonly panelId: string;
  readonly status: ObservationStatus;
  /** Ids of readings, in the order of the set. */
  readonly members: readonly string[];
}
