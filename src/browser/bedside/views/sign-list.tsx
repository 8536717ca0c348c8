import type { JSX } from 'preact';
import { STEPS, type Step } from '../form/steps.js';
import { EntryRow } from '../parts/entry-row.js';
import { usePage } from '../parts/page-context.js';
import { openStep } from '../session/fill-form.js';
import { goTo } from '../session/go-to.js';
import type { Session } from '../session/surroundings.js';

/** The steps in their usual order, each open to a tap at any time. */
export function SignList(): JSX.Element {
  const { say } = usePage();
  return (
    <>
      <ol class="sign-list">
        {STEPS.filter(({ usual }) => usual).map((step) => (
          <StepRows key={step.id} step={step} />
        ))}
      </ol>
      <h2>{say('signs.more')}</h2>
      <ul class="sign-list">
        {STEPS.filter(({ usual }) => !usual).map((step) => (
          <StepRows key={step.id} step={step} />
        ))}
      </ul>
    </>
  );
}

function StepRows({ step }: { step: Step }): JSX.Element {
  const { state } = usePage();
  const entries = state.form?.entries.filter((entry) => entry.step === step.id) ?? [];
  const { view } = state;
  if (entries.length === 0) {
    const open = (session: Session): void => {
      openStep(session, step.id);
    };
    return <EntryRow step={step.id} entry={null} nth={1} current={false} does={open} />;
  }
  return (
    <>
      {entries.map((entry, place) => (
        <EntryRow
          key={entry.id}
          step={step.id}
          entry={entry}
          nth={place + 1}
          current={view.name === 'step' && view.entry === entry.id}
          does={goTo({ name: 'step', entry: entry.id })}
        />
      ))}
    </>
  );
}
