import type { JSX } from 'preact';
import { buildSet } from '../form/build-set.js';
import { isFilled, lacksMethod } from '../form/change-form.js';
import type { Entry, SetForm } from '../form/set-form.js';
import { STEPS } from '../form/steps.js';
import { Act } from '../parts/act.js';
import { CheckedBy, Faults } from '../parts/entry-answer.js';
import { EntryRow, useEntryAnswer } from '../parts/entry-row.js';
import { Findings } from '../parts/findings.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { openStep } from '../session/fill-form.js';
import { goTo } from '../session/go-to.js';
import { sendSet } from '../session/send-set.js';
import { ClockWarning } from './clock-warning.js';
import { Reminders } from './signs-view.js';

/** All of the set once more, and the way to the gateway. Nothing that is doubted bars it. */
export function ReviewView(): JSX.Element | null {
  const { state, say } = usePage();
  const { form, check, sending } = state;
  if (form === null) return null;
  const built = buildSet(form, state.site.units);
  const checked = check?.checked ?? null;
  const count = built?.set.readings.length ?? 0;
  const unsaid = form.entries.filter((entry) => isFilled(entry) && lacksMethod(entry));
  return (
    <section class="review">
      <Heading>{say('review.title')}</Heading>
      <ClockWarning />
      {unsaid.map((entry) => (
        <p key={entry.id} class="notice">
          {say('review.lacks-method', { step: say(`step.${entry.step}`) })}
        </p>
      ))}
      <ol class="sign-list">
        {form.entries.filter(isFilled).map((entry) => (
          <ReviewRow key={entry.id} entry={entry} form={form} />
        ))}
      </ol>
      {checked !== null && 'answers' in checked && <Findings findings={checked.ofSet} />}
      {checked !== null && 'faults' in checked && <Faults faults={checked.faults} />}
      <CheckedBy />
      <NotTaken form={form} />
      <Reminders which={['hands-after']} />
      <div class="acts">
        <div class="acts-row">
          <Act does={goTo({ name: 'signs' })}>{say('signs.all')}</Act>
          <Act main disabled={sending || count === 0} does={sendSet}>
            {sending
              ? say('review.sending')
              : say(count === 1 ? 'review.send-one' : 'review.send', { count })}
          </Act>
        </div>
      </div>
    </section>
  );
}

function ReviewRow({ entry, form }: { entry: Entry; form: SetForm }): JSX.Element {
  const answer = useEntryAnswer(entry);
  const alike = form.entries.filter(({ step }) => step === entry.step);
  return (
    <>
      <EntryRow
        step={entry.step}
        entry={entry}
        nth={alike.indexOf(entry) + 1}
        current={false}
        does={goTo({ name: 'step', entry: entry.id })}
      />
      {answer !== null && answer.findings.length > 0 && (
        <li class="row-findings">
          <Findings findings={answer.findings} />
        </li>
      )}
    </>
  );
}

/** Usual signs that nobody has touched: say why, or send without them. */
function NotTaken({ form }: { form: SetForm }): JSX.Element | null {
  const { say } = usePage();
  const open = STEPS.filter(
    ({ id, usual }) => usual && !form.entries.some((entry) => entry.step === id && isFilled(entry)),
  );
  if (open.length === 0) return null;
  return (
    <div class="not-taken">
      <h2>{say('review.not-taken')}</h2>
      <p class="quiet">{say('review.not-taken-hint')}</p>
      <div class="chips">
        {open.map(({ id }) => (
          <Act
            key={id}
            does={(session) => {
              openStep(session, id);
            }}
          >
            {say(`step.${id}`)}
          </Act>
        ))}
      </div>
    </div>
  );
}
