/** Everything that the page shows. */
import type { FoundPatient, SendOutcome, SetJson, SignedInPerson, SiteDefaults } from '../door.js';
import type { Count } from '../form/count.js';
import type { Habits } from '../form/offer-choices.js';
import type { Checked } from '../form/read-answer.js';
import type { SetForm } from '../form/set-form.js';

/** Where the page is. No address says it: a patient is in none. */
export type View =
  | { readonly name: 'opening' | 'locked' | 'elsewhere' }
  /** No network, and nobody touched the page for a while: is it still this person? */
  | { readonly name: 'still-you' }
  | { readonly name: 'who' | 'signs' | 'review' | 'practice' | 'outbox' | 'menu' }
  | { readonly name: 'step' | 'count'; readonly entry: number }
  | { readonly name: 'sent'; readonly setId: string }
  | { readonly name: 'decide'; readonly setId: string; readonly index: number };

/** What the gateway, or this device, said of the form as it stood. */
export interface CheckState {
  readonly state: 'asking' | 'told';
  readonly by: 'gateway' | 'this-device' | null;
  readonly checked: Checked | null;
}

/** A set that left the form in this sitting. It is forgotten with the patient. */
export interface SentSet {
  readonly setId: string;
  readonly form: SetForm;
  readonly set: SetJson;
  /** By index of the reading. */
  readonly entryIds: readonly number[];
  readonly outcome: SendOutcome;
}

/** Something to say once, whatever the view. */
export type Notice =
  'draft-not-kept' | 'draft-found' | 'not-kept-full' | 'not-kept-denied' | 'delivered-later';

export type LookUp =
  | { readonly state: 'idle' | 'asking' }
  | { readonly state: 'found'; readonly patient: FoundPatient }
  | {
      readonly state: 'not-found';
      readonly why: 'unknown' | 'ambiguous' | 'no-network' | 'not-allowed' | 'too-many';
      readonly value: string;
      readonly system: string | null;
    };

export interface PageState {
  readonly view: View;
  readonly person: SignedInPerson | null;
  readonly site: SiteDefaults;
  readonly lookUp: LookUp;
  readonly form: SetForm | null;
  readonly habits: Habits;
  readonly counting: { readonly entry: number; readonly count: Count } | null;
  readonly check: CheckState | null;
  readonly sending: boolean;
  /** Newest first. */
  readonly sent: readonly SentSet[];
  /** How many sets wait on this device, whosever they are. */
  readonly waiting: number;
  readonly notice: Notice | null;
  /** Loads the newer page that is ready; null: there is none. */
  readonly takeNewPage: (() => void) | null;
}

export const NO_SITE: SiteDefaults = {
  zone: 'UTC',
  units: {},
  identifierSystems: [],
  idleMinutes: 0,
};

/** Of nobody, before anything is known; also what is left when the patient is taken off the screen. */
export const FIRST_STATE: PageState = {
  view: { name: 'opening' },
  person: null,
  site: NO_SITE,
  lookUp: { state: 'idle' },
  form: null,
  habits: {},
  counting: null,
  check: null,
  sending: false,
  sent: [],
  waiting: 0,
  notice: null,
  takeNewPage: null,
};
