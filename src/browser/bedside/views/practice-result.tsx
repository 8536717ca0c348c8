import type { JSX } from 'preact';
import type { PracticeOutcome } from '../door.js';
import { usePage } from '../parts/page-context.js';

/** How far the reading lay from the known value, part by part, as the gateway reckons it. */
export function Compared(props: {
  outcome: Extract<PracticeOutcome, { state: 'compared' }>;
}): JSX.Element {
  const { say } = usePage();
  const { passed, parts } = props.outcome;
  const heads = ['part', 'read', 'known', 'difference', 'result'] as const;
  return (
    <div class={passed ? 'compared passed' : 'compared failed'}>
      <p class="lead">{say(passed ? 'practice.passed' : 'practice.failed')}</p>
      <table>
        <thead>
          <tr>
            {heads.map((head) => (
              <th key={head} scope="col">
                {say(`practice.${head}`)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {parts.map((one) => (
            <tr key={one.part}>
              <th scope="row">{one.part === 'value' ? '' : say(`part.${one.part}`)}</th>
              <td>{one.read}</td>
              <td>{one.setValue}</td>
              <td>
                {one.difference} ({one.differencePercent} %)
              </td>
              <td>{say(one.passed ? 'practice.within' : 'practice.outside')}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="quiet">{say('practice.kept')}</p>
    </div>
  );
}
