/** What a code that a device sends stands for, in the gateway's own terms. */
import type { ReportDoubt } from './device-report.js';
import type { Method, Part, Side, Site, Vital } from './words.js';

/** A sign as a code tells it: what a code does not say is absent. */
export interface CodedSign {
  readonly vital: Vital;
  /** Which part of a pressure. */
  readonly part?: Exclude<Part, 'value'>;
  readonly method?: Method;
  readonly site?: Site;
  readonly side?: Side;
  /** What the code says and the gateway has no word for. */
  readonly note?: string;
  /** What the code itself makes doubtful about any value under it. */
  readonly doubts?: readonly ReportDoubt[];
}

/** Rows beside the readings that say something about a device or about other rows. */
export type ContextKind =
  | 'perfusion-index'
  | 'signal-quality'
  | 'measurement-status'
  | 'oximeter-status'
  | 'cuff-status'
  | 'device-status'
  | 'device-time'
  | 'modality'
  | 'association'
  | 'device';

export type CodeMeaning =
  | { readonly kind: 'sign'; readonly sign: CodedSign }
  /** Heads the parts of a pressure; has no value of its own. */
  | { readonly kind: 'panel'; readonly method?: Method }
  | { readonly kind: 'context'; readonly context: ContextKind }
  /** Known, and none of the catalogue's signs; `about` says what it is. */
  | { readonly kind: 'not-a-vital-sign'; readonly about: string };

/** One code as sent: any of the three may be missing. */
export interface SentCode {
  readonly system?: string;
  readonly code?: string;
  readonly name?: string;
}
