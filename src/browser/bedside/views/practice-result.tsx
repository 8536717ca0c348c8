import type { JSX } from 'preact';
import type { PracticeOutcome } from '../door.js';
import { usePage } from '../parts/page-context.js';

/** How far the reading lay from the known value, part by part, as the gateway reckons it. */
export function Compared(props: {
  outcome: Extract<PracticeOutcome, { state: 'compared' }>;
}): JSX.Element {
  const { say } = usePage();
  const { passed, parts } = props.outcome;
  return (
    <div class={passed ? 'compared passed' : 'compared failed'}>
      <p class="lead">{say(passed ? 'practice.passed' : 'practice.failed')}</p>
      <ul>
        {parts.map(({ part, passed: within, ...gap }) => (
          <li key={part}>
            <p class="big-value">{part === 'value' ? '' : say(`part.${part}`)}</p>
            <p>
              {say('practice.line', {
                read: gap.read,
                known: gap.setValue,
                difference: gap.difference,
                percent: gap.differencePercent,
              })}
            </p>
            <p class="lead">{say(within ? 'practice.within' : 'practice.outside')}</p>
          </li>
        ))}
      </ul>
      <p class="quiet">{say('practice.kept')}</p>
    </div>
  );
}
