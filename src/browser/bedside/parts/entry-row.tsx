import type { JSX } from 'preact';
import type { EntryAnswer } from '../form/read-answer.js';
import type { Entry } from '../form/set-form.js';
import type { StepId } from '../form/steps.js';
import type { Session } from '../session/surroundings.js';
import { entryText } from '../words/show-values.js';
import { Mark, toneOf } from './mark.js';
import { usePage } from './page-context.js';

/** What is said of an entry so far. */
export function useEntryAnswer(entry: Entry | null): EntryAnswer | null {
  const { state } = usePage();
  const checked = state.check?.checked ?? null;
  if (entry === null || checked === null || !('answers' in checked)) return null;
  return checked.answers.get(entry.id) ?? null;
}

/** A step in the list: its value and what is said of it. */
export function EntryRow(props: {
  step: StepId;
  entry: Entry | null;
  nth: number;
  current: boolean;
  does: (session: Session) => void;
}): JSX.Element {
  const { session, state, say } = usePage();
  const { step, entry, nth } = props;
  const answer = useEntryAnswer(entry);
  const text = entry === null ? '' : entryText(entry, state.site.units, say);
  return (
    <li>
      <button
        type="button"
        class="sign-row"
        aria-current={props.current ? 'step' : undefined}
        onClick={() => {
          props.does(session);
        }}
      >
        <span class="sign-name">
          {say(`step.${step}`)}
          {nth > 1 && <span class="nth"> {say('step.nth', { n: nth })}</span>}
        </span>
        <span class="sign-value">{text === '' ? '–' : text}</span>
        {answer !== null && text !== '' && (
          <span class="sign-mark">
            <Mark tone={toneOf(answer)} />
          </span>
        )}
      </button>
    </li>
  );
}
