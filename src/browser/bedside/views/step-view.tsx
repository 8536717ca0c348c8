import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { CONSCIOUSNESS_CODES } from '../../../vitals/words.js';
import { isFilled, lacksMethod } from '../form/change-form.js';
import type { Entry } from '../form/set-form.js';
import { stepOf, type Step } from '../form/steps.js';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { EntryAnswerBox } from '../parts/entry-answer.js';
import { usePage } from '../parts/page-context.js';
import { entryOf, fillEntry } from '../session/fill-form.js';
import { EntryChoices } from './choices.js';
import { CountedValue } from './counted-value.js';
import { NumberEntry } from './number-entry.js';
import { NextAct, StepHead } from './step-acts.js';

/** One act of measuring: the value, what is said of it, and how it was taken. */
export function StepView({ entryId }: { entryId: number }): JSX.Element | null {
  const { state, say } = usePage();
  const [typing, setTyping] = useState<number | null>(0);
  const entry = entryOf(state.form, entryId);
  if (entry === null || state.form === null) return null;
  const step = stepOf(entry.step);
  const place = state.form.entries.filter((one) => one.step === entry.step).indexOf(entry);
  const typesNow = step.kind === 'numbers' && typing !== null && entry.absent === null;
  return (
    <section class="step">
      <StepHead entry={entry} nth={place + 1} />
      {step.kind === 'count' && <p class="quiet">{say(`how.${step.id}`)}</p>}
      {entry.absent === null ? (
        <Value entry={entry} step={step} typing={typing} setTyping={setTyping} />
      ) : (
        <Skipped entry={entry} />
      )}
      {lacksMethod(entry) && isFilled(entry) && <p class="ask">{say('step.say-how')}</p>}
      <EntryAnswerBox entry={entry} />
      {step.kind !== 'count' && <p class="quiet">{say(`how.${step.id}`)}</p>}
      {entry.absent === null && <EntryChoices entry={entry} />}
      <Remark entry={entry} />
      {!typesNow && (
        <div class="acts">
          <div class="acts-row">
            <NextAct from={entry.step} />
          </div>
        </div>
      )}
    </section>
  );
}

function Value(props: {
  entry: Entry;
  step: Step;
  typing: number | null;
  setTyping: (field: number | null) => void;
}): JSX.Element {
  const { session, say } = usePage();
  const { entry, step } = props;
  if (step.kind === 'count') return <CountedValue entry={entry} />;
  if (step.kind === 'code') {
    return (
      <ChoiceRow
        legend={say('awareness.ask')}
        choices={CONSCIOUSNESS_CODES.map((word) => ({ word, label: say(`awareness.${word}`) }))}
        chosen={entry.code}
        onChoose={(code) => {
          fillEntry(session, entry.id, { code, confirmed: false });
        }}
      />
    );
  }
  return <NumberEntry {...props} fields={step.fields} />;
}

function Skipped({ entry }: { entry: Entry }): JSX.Element {
  const { session, say } = usePage();
  const undo = (): void => {
    fillEntry(session, entry.id, { absent: null });
  };
  return (
    <div class="skipped">
      <p class="big-value">{entry.absent !== null && say(`absent.${entry.absent}`)}</p>
      <Act does={undo}>{say('skip.undo')}</Act>
    </div>
  );
}

function Remark({ entry }: { entry: Entry }): JSX.Element {
  const { session, say } = usePage();
  return (
    <details class="remark" open={entry.note !== ''}>
      <summary>{say('remark')}</summary>
      <textarea
        aria-label={say('remark')}
        maxLength={500}
        rows={3}
        value={entry.note}
        onInput={(event) => {
          fillEntry(session, entry.id, { note: event.currentTarget.value });
        }}
      />
    </details>
  );
}
