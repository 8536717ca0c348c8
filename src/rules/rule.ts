/**
 * What a rule is. One file a rule; the file name is its `id`, worded as the complaint. A rule only says
 * what it found: its verdict and the kind of its hold are fixed, so that two thresholds are two rules.
 */
import type { Age } from '../vitals/age.js';
import type { Source } from '../vitals/limits-sources.js';
import type { Finding, JudgingContext, Reading } from '../vitals/shapes.js';
import type { HoldKind, Part, Vital } from '../vitals/words.js';
import type { UnitSlip } from './unit-slips.js';

/** One reading with what every rule needs to know of it, worked out once. */
export interface ReadingFacts {
  readonly reading: Reading;
  /** Null: not known, or not known whose reading it is. */
  readonly age: Age | null;
  /** The unit that the number was probably taken in, where it is not the one sent. */
  readonly slip: UnitSlip | null;
  /** The numbers to judge: without a mean that contradicts its pressures, which goes out as absent. */
  readonly parts: readonly Part[];
}

/** What a rule has to say. Rule, verdict, hold and, if it is the rule's own, the source are filled in. */
export interface Remark {
  /** Indexes of the readings spoken about; empty: each reading of the set. */
  readonly readings: readonly number[];
  readonly message: string;
  readonly advice: string;
  readonly figures?: Readonly<Record<string, number | string>>;
  readonly earlier?: readonly string[];
  readonly discreetMessage?: string;
  readonly partInError?: Part;
  /** The sources of the limits that were met, where they are not the rule's own. */
  readonly sources?: readonly Source[];
}

export const NO_REMARKS: readonly Remark[] = [];

/** What a rule costs: fixed with the rule. */
export type Outcome =
  | { readonly verdict: 'noted' | 'rejected'; readonly hold?: never }
  | { readonly verdict: 'held'; readonly hold: HoldKind };

interface RuleFace {
  readonly id: string;
  /** What it complains of, in one sentence, for the list of rules. */
  readonly words: string;
  readonly source: Source;
  /** Edition in which the rule came. */
  readonly since: number;
  /** Signs that the rule can speak about; absent: all. */
  readonly appliesTo?: readonly Vital[];
}

/** Asks who and when: judged first, because the age hangs on who the patient is. */
export type SetRule = RuleFace &
  Outcome & {
    readonly stage: 'set';
    /** Asks whose readings they are: not heard once a person has said so. */
    readonly asksWho?: true;
    readonly check: (context: JudgingContext) => readonly Remark[];
  };

/** Looks at one reading alone. */
export type ReadingRule = RuleFace &
  Outcome & {
    readonly stage: 'reading';
    readonly check: (facts: ReadingFacts, context: JudgingContext) => readonly Remark[];
  };

/** Looks at readings together: at those that no rule has rejected, and at earlier ones. */
export type AcrossRule = RuleFace &
  Outcome & {
    readonly stage: 'across';
    readonly check: (
      context: JudgingContext,
      standing: readonly ReadingFacts[],
    ) => readonly Remark[];
  };

/** Why a hold may be lifted. */
export interface Lift {
  /** Added to the message of the lifted finding. */
  readonly remark: string;
  readonly earlier?: readonly string[];
}

/**
 * Clears the holds of the rules that it names, before the worst verdict is taken. A lifted finding stays
 * in the list as `noted`, with the reason added to its message and this rule's id in its figures.
 */
export type LiftingRule = RuleFace & {
  readonly stage: 'lift';
  readonly verdict: 'noted';
  readonly hold?: never;
  readonly lifts: readonly string[];
  readonly check: (
    held: Finding,
    context: JudgingContext,
    standing: readonly ReadingFacts[],
  ) => Lift | null;
};

/** What a repeated measurement has settled; the remark says it of the own readings that agree. */
export interface Resolution extends Remark {
  /** Indexes of own readings whose hold ends. */
  readonly lifted: readonly number[];
  /** Ids of kept readings whose hold ends. */
  readonly releases: readonly string[];
}

export const NO_RESOLUTIONS: readonly Resolution[] = [];

/**
 * Ends the holds that the named rules made for a disagreement, on one side of it and also of readings
 * that were kept before. Nothing else touches the verdict of an earlier reading.
 */
export type ResolvingRule = RuleFace & {
  readonly stage: 'resolve';
  readonly verdict: 'noted';
  readonly hold?: never;
  readonly lifts: readonly string[];
  readonly check: (
    findings: readonly Finding[],
    context: JudgingContext,
    standing: readonly ReadingFacts[],
  ) => readonly Resolution[];
};

export type Rule = SetRule | ReadingRule | AcrossRule | LiftingRule | ResolvingRule;

/** Told of every rule that threw, for a metric and a log line. */
export type RuleFailureListener = (ruleId: string, error: unknown) => void;
