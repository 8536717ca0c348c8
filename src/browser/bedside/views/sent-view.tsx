import type { JSX } from 'preact';
import type { AnsweredReading, Problem, SetAnswer } from '../door.js';
import { isFilled } from '../form/change-form.js';
import { readAnswer } from '../form/read-answer.js';
import { Act } from '../parts/act.js';
import { Findings } from '../parts/findings.js';
import { Heading } from '../parts/heading.js';
import { Mark, toneOf } from '../parts/mark.js';
import { usePage } from '../parts/page-context.js';
import { goTo } from '../session/go-to.js';
import { signInAgain } from '../session/open-session.js';
import type { SentSet } from '../session/page-state.js';
import { putRight } from '../session/send-set.js';
import type { Say } from '../words/say.js';
import { answeredText, entryText } from '../words/show-values.js';

/** What became of the set: by reading, held or not and why, and what can still be done about it. */
export function SentView({ setId }: { setId: string }): JSX.Element | null {
  const { state, say } = usePage();
  const sent = state.sent.find((one) => one.setId === setId);
  if (sent === undefined) return null;
  const { outcome } = sent;
  return (
    <section class="sent">
      <Heading>{say(`sent.${outcome.state}`)}</Heading>
      <div role="status">
        {outcome.state === 'waiting' && <p class="notice">{say(`sent.waits-${outcome.why}`)}</p>}
        {outcome.state === 'refused' && <Refused problem={outcome.problem} />}
        {outcome.state === 'answered' && (
          <p class="lead">{say(`sent.set-${outcome.answer.verdict}`)}</p>
        )}
      </div>
      {outcome.state === 'answered' ? (
        <Answer sent={sent} answer={outcome.answer} />
      ) : (
        <Unanswered sent={sent} />
      )}
      <div class="acts">
        <div class="acts-row">
          {outcome.state === 'refused' && (
            <Act does={(session) => putRight(session, setId)}>{say('sent.put-right')}</Act>
          )}
          {outcome.state === 'waiting' && outcome.why === 'sign-in-needed' && (
            <Act does={signInAgain}>{say('sign-in-again')}</Act>
          )}
          <Act main does={goTo({ name: 'who' })}>
            {say('sent.next-patient')}
          </Act>
        </div>
      </div>
    </section>
  );
}

/** What was taken, as long as the gateway has said nothing of it. */
function Unanswered({ sent }: { sent: SentSet }): JSX.Element {
  const { state, say } = usePage();
  return (
    <ul class="answers">
      {sent.form.entries.filter(isFilled).map((entry) => (
        <li key={entry.id} class="answered">
          <h2>{say(`step.${entry.step}`)}</h2>
          <p class="answer-value">{entryText(entry, state.site.units, say)}</p>
        </li>
      ))}
    </ul>
  );
}

export function Refused({ problem }: { problem: Problem }): JSX.Element {
  return (
    <div class="fault" lang="en">
      <p>{problem.detail}</p>
      <ul>
        {problem.errors?.map(({ pointer, message }) => (
          <li key={pointer + message}>
            {pointer} {message}
          </li>
        ))}
      </ul>
    </div>
  );
}

/** Reading by reading: what is kept, what is said of it, and the way to put it right. */
function Answer({ sent, answer }: { sent: SentSet; answer: SetAnswer }): JSX.Element {
  const { say } = usePage();
  const { answers, ofSet } = readAnswer(
    answer,
    answer.readings.map(({ index }) => index),
  );
  return (
    <>
      <Findings findings={ofSet} />
      <ol class="answers">
        {answer.readings.map((reading) => {
          const told = answers.get(reading.index);
          return (
            <li key={reading.index} class="answered">
              <h2>{nameOf(sent, reading, say)}</h2>
              <p class="answer-head">
                {told !== undefined && <Mark tone={toneOf(told)} />}{' '}
                <span class="answer-value">{answeredText(reading, say)}</span>
              </p>
              <p class="quiet">{say(`sent.${becomes(reading)}`)}</p>
              {told !== undefined && <Findings findings={told.findings} />}
              <Act does={goTo({ name: 'decide', setId: sent.setId, index: reading.index })}>
                {say('sent.change')}
              </Act>
            </li>
          );
        })}
      </ol>
    </>
  );
}

/** By the step in which it was taken: two pressures have the same sign. */
function nameOf(sent: SentSet, reading: AnsweredReading, say: Say): string {
  const id = sent.entryIds[reading.index];
  const step = sent.form.entries.find((entry) => entry.id === id)?.step;
  const vital = say(`vital.${reading.vital}`);
  return step === undefined ? vital : `${vital} · ${say(`step.${step}`)}`;
}

function becomes(
  reading: AnsweredReading,
): 'in-record' | 'held-in-record' | 'held' | 'not-in-record' {
  if (reading.verdict === 'rejected') return 'not-in-record';
  if (reading.observation !== undefined) {
    return reading.verdict === 'held' ? 'held-in-record' : 'in-record';
  }
  return reading.verdict === 'held' ? 'held' : 'not-in-record';
}
