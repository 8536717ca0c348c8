import type { JSX } from 'preact';
import type { StepId } from '../form/steps.js';
import { usePage } from '../parts/page-context.js';
import { prepareSound, signalTap } from '../senses/sounds.js';
import { tap } from '../session/run-count.js';

/** A finger counts when it comes down; a key, or a screen reader's own press, when it clicks. */
export function TapPlace({ step, started }: { step: StepId; started: boolean }): JSX.Element {
  const { session, say, preferences } = usePage();
  const take = (): void => {
    prepareSound();
    signalTap(preferences);
    tap(session, session.around.monotonicMs());
  };
  const words = step === 'pulse' ? 'count.tap-beat' : 'count.tap-breath';
  return (
    <button
      type="button"
      class="tap-place"
      onPointerDown={(event) => {
        if (event.button === 0) take();
      }}
      onClick={(event) => {
        if (event.detail === 0) take();
      }}
      onContextMenu={(event) => {
        event.preventDefault();
      }}
    >
      <span class="tap-words">{say(started ? words : 'count.start')}</span>
      <span class="tap-hint">{say(started ? 'count.tap-hint' : 'count.start-hint')}</span>
    </button>
  );
}
