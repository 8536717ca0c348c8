/** Every rule with its source, its numbers, and how often it spoke. */
import type { RuleDescription } from '../../../site-rules/describe-rules.js';
import type { RuleCount } from '../../../store/rule-counts.js';
import type { SettingDescription } from '../../../vitals/describe-settings.js';
import { Mark } from '../../pages/parts/mark.js';
import type { MarkTone } from '../../pages/parts/mark.js';
import { Table } from '../../pages/parts/table.js';
import { signText } from '../../pages/parts/value-text.js';
import { TRIALS_PATH } from './rule-sides.js';

export interface ShownRule extends RuleDescription {
  readonly spoke: RuleCount;
}

const TONES: Readonly<Record<RuleDescription['verdict'], MarkTone>> = {
  noted: 'plain',
  held: 'caution',
  rejected: 'urgent',
};

function Setting({ setting, mayTry }: { setting: SettingDescription; mayTry: boolean }) {
  const { id, at, unit, words, source, changed } = setting;
  return (
    <li>
      <code>{id}</code>: <strong>{`${at} ${unit}`}</strong>
      {changed && (
        <>
          {' '}
          <Mark tone="caution">set by the site</Mark> {`default ${setting.default.at} ${unit}`}
        </>
      )}
      <br />
      {words} {source}.
      {mayTry && (
        <>
          {' '}
          <a href={`${TRIALS_PATH}/new?setting=${encodeURIComponent(id)}`}>
            Try another number<span class="unseen"> for {id}</span>
          </a>
        </>
      )}
    </li>
  );
}

/** The numbers of a rule, a band or a calculation, folded away where there are many. */
export function Settings({
  settings,
  mayTry,
}: {
  settings: readonly SettingDescription[];
  mayTry: boolean;
}) {
  if (settings.length === 0) return <>none</>;
  const changed = settings.filter((setting) => setting.changed).length;
  return (
    <details>
      <summary>
        {settings.length === 1 ? '1 number' : `${settings.length} numbers`}
        {changed > 0 && `, ${changed} set by the site`}
      </summary>
      <ul class="settings">
        {settings.map((setting) => (
          <Setting key={setting.id} {...{ setting, mayTry }} />
        ))}
      </ul>
    </details>
  );
}

function Words({ rule, words, source, disabled, lifts }: RuleDescription) {
  return (
    <>
      <code id={rule}>{rule}</code>
      {disabled && (
        <>
          {' '}
          <Mark tone="caution">switched off</Mark>
        </>
      )}
      <br />
      {words}
      {lifts.length > 0 && ` Ends the hold of ${lifts.join(', ')}.`}
      <br />
      <small>{source}</small>
    </>
  );
}

export function RuleTable(facts: {
  rules: readonly ShownRule[];
  mayTry: boolean;
  edition: string;
}) {
  return (
    <Table
      caption={`${facts.rules.length} rules of edition ${facts.edition}, which is in force`}
      columns={[
        { head: 'Rule', rowHead: true, cell: (rule: ShownRule) => <Words {...rule} /> },
        {
          head: 'Verdict',
          cell: ({ verdict, hold }) => (
            <>
              <Mark tone={TONES[verdict]}>{verdict}</Mark>
              {hold !== null && ` for the ${hold === 'identity' ? 'patient' : hold}`}
            </>
          ),
        },
        {
          head: 'Signs',
          cell: ({ signs }) => (signs === null ? 'all' : signs.map(signText).join(', ')),
        },
        { head: 'Spoke in 24 h', numeric: true, cell: ({ spoke }) => spoke.last24Hours },
        { head: 'in 7 days', numeric: true, cell: ({ spoke }) => spoke.last7Days },
        {
          head: 'Numbers',
          cell: ({ settings }) => <Settings {...{ settings, mayTry: facts.mayTry }} />,
        },
      ]}
      rows={facts.rules}
      keyOf={({ rule }) => rule}
      empty="No rule is like this."
    />
  );
}
