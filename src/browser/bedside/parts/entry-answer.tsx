import type { JSX } from 'preact';
import type { EntryAnswer } from '../form/read-answer.js';
import type { Entry } from '../form/set-form.js';
import type { StepId } from '../form/steps.js';
import { fillEntry, repeatStep } from '../session/fill-form.js';
import { answeredText } from '../words/show-values.js';
import { Act } from './act.js';
import { Findings } from './findings.js';
import { Mark, toneOf } from './mark.js';
import { usePage } from './page-context.js';

/** What is said of one entry, beside it; read out when it comes. */
export function EntryAnswerBox({ entry }: { entry: Entry }): JSX.Element {
  const { state, say } = usePage();
  const { check } = state;
  const checked = check?.checked ?? null;
  const answer =
    checked !== null && 'answers' in checked ? checked.answers.get(entry.id) : undefined;
  return (
    <div class="answer">
      <div role="status">
        {check?.state === 'asking' && <p class="quiet">{say('check.asking')}</p>}
        {checked !== null && 'faults' in checked && <Faults faults={checked.faults} />}
        {answer !== undefined && check?.state === 'told' && <Told answer={answer} />}
      </div>
      {answer !== undefined && check?.state === 'told' && (
        <>
          <NextActs entry={entry} answer={answer} />
          <CheckedBy />
        </>
      )}
    </div>
  );
}

/** Who says so: the gateway, or this device for the time being. */
export function CheckedBy(): JSX.Element | null {
  const { state, say } = usePage();
  const by = state.check?.by ?? null;
  if (by === null) return null;
  return <p class={`checked-by ${by}`}>{say(`check.by-${by}`)}</p>;
}

export function Faults({ faults }: { faults: readonly string[] }): JSX.Element {
  const { say } = usePage();
  return (
    <div class="fault">
      <p>{say('check.faults')}</p>
      <ul lang="en">
        {faults.map((fault) => (
          <li key={fault}>{fault}</li>
        ))}
      </ul>
    </div>
  );
}

function Told({ answer }: { answer: EntryAnswer }): JSX.Element {
  const { say } = usePage();
  return (
    <>
      <p class="answer-head">
        <Mark tone={toneOf(answer)} />{' '}
        <span class="answer-value">
          {answer.readings.map((reading) => answeredText(reading, say)).join(' · ')}
        </span>
      </p>
      {answer.critical && <p class="call">{say('answer.critical')}</p>}
      <Findings findings={answer.findings} saidOf="value-critical" />
    </>
  );
}

/** What to do about it, in place. Nothing here keeps anybody from sending. */
function NextActs({ entry, answer }: { entry: Entry; answer: EntryAnswer }): JSX.Element | null {
  const { state, say } = usePage();
  const again = answer.verdict === 'held' || answer.critical;
  if (!again) return null;
  const stepIds = answer.together
    .map((id) => state.form?.entries.find((one) => one.id === id)?.step)
    .filter((step) => step !== undefined);
  const repeats: readonly StepId[] = [...new Set([entry.step, ...stepIds])];
  return (
    <div class="next-acts">
      {repeats.map((step) => (
        <Act
          key={step}
          does={(session) => {
            repeatStep(session, step);
          }}
        >
          {say('answer.again', { step: say(`step.${step}`) })}
        </Act>
      ))}
      {(answer.canConfirm || entry.confirmed) && (
        <Act
          pressed={entry.confirmed}
          does={(session) => {
            fillEntry(session, entry.id, { confirmed: !entry.confirmed });
          }}
        >
          {say('answer.stands')}
        </Act>
      )}
    </div>
  );
}
