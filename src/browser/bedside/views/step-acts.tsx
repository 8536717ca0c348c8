import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { ABSENT_REASONS } from '../../../vitals/words.js';
import { isFilled } from '../form/change-form.js';
import { nextStep } from '../form/next-step.js';
import type { Entry } from '../form/set-form.js';
import type { StepId } from '../form/steps.js';
import { Act } from '../parts/act.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { clearEntry, openStep, skipEntry } from '../session/fill-form.js';
import { goTo } from '../session/go-to.js';
import type { Session } from '../session/surroundings.js';

/** The step's name, the way to the list, and the way past it with a reason. */
export function StepHead({ entry, nth }: { entry: Entry; nth: number }): JSX.Element {
  const { say } = usePage();
  const [skipping, setSkipping] = useState(false);
  const toList = (session: Session): void => {
    // A step that was opened and left empty is as if it had not been opened.
    if (isFilled(entry)) goTo({ name: 'signs' })(session);
    else clearEntry(session, entry.id);
  };
  const askWhy = (): void => {
    setSkipping(!skipping);
  };
  return (
    <>
      <div class="step-head">
        <Heading>
          {say(`step.${entry.step}`)}
          {nth > 1 && <span class="nth"> {say('step.nth', { n: nth })}</span>}
        </Heading>
        <div class="step-ways">
          {entry.absent === null && (
            <Act does={askWhy} expanded={skipping}>
              {say('skip')}
            </Act>
          )}
          <Act does={toList}>{say('signs.all')}</Act>
        </div>
      </div>
      {skipping && entry.absent === null && <SkipReasons entry={entry} />}
    </>
  );
}

function SkipReasons({ entry }: { entry: Entry }): JSX.Element {
  const { say } = usePage();
  return (
    <div class="skip-reasons" role="group" aria-label={say('skip.ask')}>
      <p>{say('skip.ask')}</p>
      {ABSENT_REASONS.map((reason) => (
        <Act
          key={reason}
          does={(session) => {
            skipEntry(session, entry.id, reason);
          }}
        >
          {say(`absent.${reason}`)}
        </Act>
      ))}
      {isFilled(entry) && <p class="quiet">{say('skip.drops')}</p>}
    </div>
  );
}

/** On to the next step that is open; when none is, to the look over all of it. */
export function NextAct({ from }: { from: StepId | null }): JSX.Element | null {
  const { state, say } = usePage();
  if (state.form === null) return null;
  const next = nextStep(state.form, from);
  if (next === null) {
    return (
      <Act main does={goTo({ name: 'review' })}>
        {say('review.open')}
      </Act>
    );
  }
  return (
    <Act
      main
      does={(session) => {
        openStep(session, next);
      }}
    >
      {say('step.next', { step: say(`step.${next}`) })}
    </Act>
  );
}
