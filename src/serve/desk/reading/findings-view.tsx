import type { Finding } from '../../../vitals/shapes.js';
import type { MarkTone } from '../../pages/parts/mark.js';
import { Mark } from '../../pages/parts/mark.js';
import { wordText } from '../../pages/parts/value-text.js';
import { HOLD_WORDS } from '../../pages/parts/words.js';

const TONES: Readonly<Record<Finding['verdict'], MarkTone>> = {
  noted: 'plain',
  held: 'caution',
  rejected: 'urgent',
};

function Figures({ figures = {} }: { figures: Finding['figures'] | undefined }) {
  const pairs = Object.entries(figures);
  if (pairs.length === 0) return null;
  return (
    <dl class="figures">
      {pairs.map(([name, value]) => (
        <div key={name}>
          <dt>{wordText(name)}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}

/** What the rules said, the gravest first, each with its figures, its limit and where that comes from. */
export function FindingsView({ findings }: { findings: readonly Finding[] }) {
  const order = ['rejected', 'held', 'noted'];
  const sorted = [...findings].sort((a, b) => order.indexOf(a.verdict) - order.indexOf(b.verdict));
  if (sorted.length === 0) return <p>The rules had nothing to remark.</p>;
  return (
    <ul class="findings">
      {sorted.map((finding, index) => (
        <li key={index}>
          <p>
            <Mark tone={TONES[finding.verdict]}>{finding.verdict}</Mark>{' '}
            <strong>{finding.message}</strong>
          </p>
          <p>{finding.advice}</p>
          <Figures figures={finding.figures} />
          <p class="soft">
            Rule <code>{finding.rule}</code>
            {finding.hold !== undefined && `, doubts ${HOLD_WORDS[finding.hold]}`}. Source:{' '}
            {finding.source}
          </p>
        </li>
      ))}
    </ul>
  );
}
