import type { JSX } from 'preact';
import type { AnsweredFinding } from '../door.js';
import { usePage } from './page-context.js';

/**
 * What was found and what to do next, in the gateway's own words, which are English.
 * @param props.saidOf a rule whose advice stands above already
 */
export function Findings(props: {
  findings: readonly AnsweredFinding[];
  saidOf?: string;
}): JSX.Element {
  const { say } = usePage();
  const { findings, saidOf } = props;
  return (
    <ul class="findings">
      {findings.map(({ rule, verdict, message, advice, source }) => (
        <li key={rule + message} class={verdict}>
          <p lang="en">{message}</p>
          {rule !== saidOf && (
            <p lang="en" class="advice">
              {advice}
            </p>
          )}
          <details>
            <summary>{say('finding.source')}</summary>
            <p lang="en">{source}</p>
          </details>
        </li>
      ))}
    </ul>
  );
}
