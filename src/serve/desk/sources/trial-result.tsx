/** How a message that was tried is understood and judged. */
import { Mark } from '../../pages/parts/mark.js';
import { Notice } from '../../pages/parts/notice.js';
import { Table } from '../../pages/parts/table.js';
import { wordText } from '../../pages/parts/value-text.js';
import { toInertText } from '../submissions/inert-text.js';
import { Inert } from '../submissions/submission-page.js';
import { SOURCES_PATH } from './source-sides.js';
import { placeText, Told } from './trial-told.js';
import type { Answered, TriedSet } from './trial-told.js';

function Faults({ faults }: Pick<Told, 'faults'>) {
  if (faults.length === 0)
    return (
      <Notice kind="done" word="No fault">
        It can be read.
      </Notice>
    );
  return (
    <Table
      caption={`${faults.length} ${faults.length === 1 ? 'fault' : 'faults'} of the message`}
      columns={[
        {
          head: 'Where',
          rowHead: true,
          cell: ({ at }: Told['faults'][number]) => placeText(at),
        },
        { head: 'What', cell: ({ message }) => message },
        { head: 'Code', cell: ({ code }) => code ?? '–' },
        { head: 'Severity', cell: ({ severity }) => severity ?? '–' },
      ]}
      rows={faults}
      keyOf={({ at, message }) => `${placeText(at)} ${message}`}
      empty=""
    />
  );
}

function measured(answered: Answered | undefined): string {
  if (answered === undefined) return 'known before';
  const { value, systolic, diastolic, mean, unit, code, absent } = answered;
  const numbers = [
    ...(value === undefined ? [] : [String(value)]),
    ...(systolic === undefined && diastolic === undefined
      ? []
      : [`${systolic ?? '–'}/${diastolic ?? '–'}`]),
    ...(mean === undefined ? [] : [`mean ${mean}`]),
  ];
  if (numbers.length > 0) return `${numbers.join(', ')} ${unit ?? ''}`;
  return wordText(code ?? absent ?? 'no value');
}

function Readings({ set }: { set: TriedSet }) {
  const answers = new Map(set.readings.map((one) => [one.index, one]));
  return (
    <Table
      caption="What was understood, and what would be said of it"
      columns={[
        {
          head: 'Where',
          rowHead: true,
          cell: ({ at, index }: TriedSet['understood'][number]) => at ?? `reading ${index}`,
        },
        {
          head: 'Sign',
          cell: ({ vital, method, site, side }) =>
            [vital, method, side, site]
              .filter((word) => word !== null)
              .map(wordText)
              .join(', '),
        },
        { head: 'Value', cell: ({ index }) => measured(answers.get(index)) },
        { head: 'Taken', cell: ({ takenAt }) => <time dateTime={takenAt}>{takenAt}</time> },
        { head: 'Device', cell: ({ device }) => device?.value ?? '–' },
        {
          head: 'Doubts of the reader',
          cell: ({ doubts, signal }) => [...doubts, ...signal].map(wordText).join(', ') || '–',
        },
        {
          head: 'Verdict',
          cell: ({ index }) => <Mark>{answers.get(index)?.verdict ?? 'none'}</Mark>,
        },
      ]}
      rows={set.understood}
      keyOf={({ index }) => String(index)}
      empty="No reading was understood."
    />
  );
}

function Findings({ findings }: Pick<TriedSet, 'findings'>) {
  if (findings.length === 0) return null;
  return (
    <ul>
      {findings.map(({ rule, verdict, message, advice, readings }, index) => (
        <li key={index}>
          <code>{rule}</code> ({verdict}
          {readings.length > 0 && `, reading ${readings.join(' and ')}`}): {message} {advice}
        </li>
      ))}
    </ul>
  );
}

/** @param sourceId where a mapping for an unread row can be proposed */
function UnreadRows({ unread, sourceId }: Pick<TriedSet, 'unread'> & { sourceId: string }) {
  if (unread.length === 0) return null;
  const address = ({ code, unit }: TriedSet['unread'][number]): string => {
    const query = new URLSearchParams({ code: code?.code ?? '' });
    if (code !== null && code.system !== null) query.set('system', code.system);
    if (unit !== null) query.set('alias', unit);
    return `${SOURCES_PATH}/${sourceId}/mappings/new?${query.toString()}`;
  };
  return (
    <Table
      caption="Rows that would bring no reading"
      columns={[
        { head: 'Where', rowHead: true, cell: ({ at }: TriedSet['unread'][number]) => at },
        {
          head: 'Code',
          cell: ({ code }) =>
            code === null ? '–' : [code.code, code.name].filter((one) => one !== null).join(' '),
        },
        {
          head: 'Value as sent',
          cell: ({ value, unit }) => [value ?? '–', unit].filter((one) => one !== null).join(' '),
        },
        { head: 'Why', cell: ({ message }) => message },
        {
          head: 'Mapping',
          cell: (row) =>
            row.reason === 'code-unmapped' &&
            row.code !== null && (
              <a href={address(row)}>
                Propose one<span class="unseen"> for {row.code.code}</span>
              </a>
            ),
        },
      ]}
      rows={unread}
      keyOf={({ at }) => at}
      empty=""
    />
  );
}

const BY: Readonly<Record<string, string>> = {
  named: 'named in the message',
  association: 'by whose the device is',
  nobody: 'told by nobody',
};

function Whose({ patient, patientBy }: TriedSet) {
  if (patient === null) return <p>No patient: {BY[patientBy] ?? patientBy}.</p>;
  const { identifier, registered } = patient;
  return (
    <p>
      Patient <strong>{identifier.value}</strong> of {identifier.system},{' '}
      {registered ? 'registered' : 'not registered'}, {BY[patientBy] ?? patientBy}.
    </p>
  );
}

export function TrialResult({
  told,
  sourceId,
}: {
  told: Readonly<Record<string, unknown>>;
  sourceId: string;
}) {
  const read = Told.safeParse(told);
  const json = toInertText(Buffer.from(JSON.stringify(told, null, 2)));
  return (
    <section aria-labelledby="result">
      <h2 id="result">What would come of it</h2>
      <Notice kind="note" word="Nothing was kept">
        No reading, no registration, no association: this was a trial.
      </Notice>
      {read.success && <Tables told={read.data} sourceId={sourceId} />}
      <details>
        <summary>All that was understood, as JSON</summary>
        <Inert label="All that was understood" shown={json} />
      </details>
    </section>
  );
}

function Tables({ told, sourceId }: { told: Told; sourceId: string }) {
  const { acknowledgement, brings, characterSet, sets } = told;
  return (
    <>
      <Faults faults={told.faults} />
      {(brings !== null || characterSet !== null) && (
        <p>
          {brings !== null && `It brings ${brings}. `}
          {characterSet !== null && `Read as ${characterSet}.`}
        </p>
      )}
      {acknowledgement !== null && (
        <>
          <h3>It would be answered</h3>
          <Inert label="The acknowledgement" shown={toInertText(Buffer.from(acknowledgement))} />
        </>
      )}
      {sets.map((set, index) => (
        <section key={index}>
          <h3>{sets.length === 1 ? 'Its set' : `Set ${index + 1}`}</h3>
          <Whose {...set} />
          <Readings set={set} />
          <Findings findings={set.findings} />
          <UnreadRows unread={set.unread} sourceId={sourceId} />
        </section>
      ))}
      {sets.length === 0 && <p class="empty">It brings no readings.</p>}
    </>
  );
}
