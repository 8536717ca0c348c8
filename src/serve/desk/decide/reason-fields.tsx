import { REASON_CODES } from '../../../vitals/decisions.js';
import type { DecisionAction } from '../../../vitals/decisions.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { wordText } from '../../pages/parts/value-text.js';

/** What each decision does, in the words of a button. */
export const ACTION_WORDS: Readonly<Record<DecisionAction, string>> = {
  release: 'Release: the value is right, send it on as final',
  correct: 'Correct: send on another value',
  reject: 'Reject: it is no measurement of this patient',
  withdraw: 'Withdraw: what is out was an error',
  assign: 'Assign: it is this patient’s',
};

interface ReasonFieldsFacts {
  readonly caller: SignedIn;
  /** Tells the fields of several forms of a page apart. */
  readonly id: string;
  readonly actions: readonly DecisionAction[];
  readonly chosen?: {
    readonly action?: string;
    readonly reasonCode?: string;
    readonly reason?: string;
  };
}

/** What every decision is asked for: what, why in a word, and why in a sentence. */
export function ReasonFields({ caller, id, actions, chosen = {} }: ReasonFieldsFacts) {
  return (
    <>
      <CsrfField caller={caller} />
      <fieldset class="choices">
        <legend>Decision</legend>
        {actions.map((action) => (
          <label key={action}>
            <input
              type="radio"
              name="action"
              value={action}
              required
              checked={chosen.action === action}
            />{' '}
            {ACTION_WORDS[action]}
          </label>
        ))}
      </fieldset>
      <div class="row">
        <Field id={`${id}-code`} label="Reason">
          <select id={`${id}-code`} name="reasonCode" required>
            <option value="">choose</option>
            {REASON_CODES.map((code) => (
              <option key={code} value={code} selected={chosen.reasonCode === code}>
                {wordText(code)}
              </option>
            ))}
          </select>
        </Field>
        <Field id={`${id}-reason`} label="In a sentence">
          <input
            id={`${id}-reason`}
            name="reason"
            required
            maxLength={500}
            size={60}
            value={chosen.reason}
          />
        </Field>
      </div>
    </>
  );
}
