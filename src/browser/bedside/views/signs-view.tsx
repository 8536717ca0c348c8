import type { JSX } from 'preact';
import { nextStep } from '../form/next-step.js';
import { isFilled } from '../form/change-form.js';
import type { Reminder } from '../form/set-form.js';
import { Act } from '../parts/act.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { remind } from '../session/fill-form.js';
import { goTo } from '../session/go-to.js';
import { SignList } from './sign-list.js';
import { NextAct } from './step-acts.js';

/** The set at a glance: what to remember, what is done, what comes next. */
export function SignsView(): JSX.Element | null {
  const { state, say } = usePage();
  const { form } = state;
  if (form === null) return null;
  const next = nextStep(form, null);
  const begun = form.entries.some(isFilled);
  return (
    <section class="signs">
      <Heading>{say('signs.title')}</Heading>
      {form.patient.unregistered !== null && (
        <p class="notice">{say(`signs.patient-${form.patient.unregistered}`)}</p>
      )}
      <Reminders which={['explained', 'hands-before', 'gloves']} />
      <div class="only-narrow">
        <SignList />
      </div>
      <div class="acts">
        <div class="acts-row">
          {begun && next !== null && (
            <Act does={goTo({ name: 'review' })}>{say('review.open')}</Act>
          )}
          <NextAct from={null} />
        </div>
      </div>
    </section>
  );
}

/** Quiet: they can be ticked, they ask for nothing and are not sent. */
export function Reminders({ which }: { which: readonly Reminder[] }): JSX.Element {
  const { state, say } = usePage();
  return (
    <ul class="reminders" aria-label={say('remind.title')}>
      {which.map((reminder) => (
        <li key={reminder}>
          <Act
            look="chip"
            pressed={state.form?.reminded.includes(reminder) ?? false}
            does={(session) => {
              remind(session, reminder);
            }}
          >
            {say(`remind.${reminder}`)}
          </Act>
        </li>
      ))}
    </ul>
  );
}
