/** The mappings of a source: proposed, tried, in force; and the codes that wait for one. */
import type { MappingRecord } from '../../../store/source-mappings.js';
import type { SourceMapping } from '../../../vitals/source-profile.js';
import type { UnmappedCode } from '../../../store/unread-rows.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { countText } from '../../pages/parts/count-text.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { actorText } from '../parts/actor-text.js';
import { SOURCES_PATH } from './source-sides.js';

/** `2 codes, 1 unit`. */
export function mappingText({ codes, units }: MappingRecord['mapping']): string {
  return `${countText(codes.length, 'code')}, ${countText(units.length, 'unit')}`;
}

function Lines({ mapping }: MappingRecord) {
  if (mapping.codes.length + mapping.units.length === 0) return <>empty</>;
  return (
    <details>
      <summary>{mappingText(mapping)}</summary>
      <ul>
        {mapping.codes.map(({ code, system, vital, part, method, site }) => (
          <li key={`${system ?? ''} ${code}`}>
            <code>{code}</code>
            {system !== undefined && ` of ${system}`}:{' '}
            {[signText(vital), part, method, site]
              .filter((word) => word !== undefined)
              .map(wordText)
              .join(', ')}
          </li>
        ))}
        {mapping.units.map(({ alias, unit }) => (
          <li key={alias}>
            <code>{alias}</code>: {unit}
          </li>
        ))}
      </ul>
    </details>
  );
}

function Force({
  mapping,
  sourceId,
  caller,
}: {
  mapping: MappingRecord;
  sourceId: string;
  caller: SignedIn;
}) {
  const { version, triedMs } = mapping;
  const id = `force-${version}`;
  return (
    <details>
      <summary>Put mapping {version} in force</summary>
      <form method="post" action={`${SOURCES_PATH}/${sourceId}/mappings/${version}/force`}>
        <CsrfField caller={caller} />
        <Field id={`${id}-reason`} label="Reason">
          <input id={`${id}-reason`} name="reason" maxLength={500} required />
        </Field>
        {triedMs === null && (
          <p>
            <label>
              <input type="checkbox" name="untried" value="yes" /> No message was tried with it, and
              the reason says why it goes in force all the same
            </label>
          </p>
        )}
        <p>
          <button type="submit">Put it in force</button>
        </p>
      </form>
    </details>
  );
}

interface ListFacts {
  readonly mappings: readonly MappingRecord[];
  /** Number of the one in force. */
  readonly inForce: number | null;
  readonly sourceId: string;
  readonly caller: SignedIn;
  readonly zone: string;
}

function Tried({ mapping, facts }: { mapping: MappingRecord; facts: ListFacts }) {
  const { version, triedMs } = mapping;
  return (
    <>
      {triedMs === null ? 'never' : <Moment atMs={triedMs} zone={facts.zone} />}
      <br />
      <a href={`${SOURCES_PATH}/${facts.sourceId}/try?mapping=${version}`}>
        Try a message with mapping {version}
      </a>
    </>
  );
}

function InForce({ mapping, facts }: { mapping: MappingRecord; facts: ListFacts }) {
  const { inForceMs, inForceBy, forceReason, version } = mapping;
  return (
    <>
      {inForceMs !== null && (
        <>
          {actorText(inForceBy)}, <Moment atMs={inForceMs} zone={facts.zone} />
          <br />
          {forceReason}
        </>
      )}
      {version !== facts.inForce && (
        <Force {...{ mapping, sourceId: facts.sourceId, caller: facts.caller }} />
      )}
    </>
  );
}

export function MappingList(facts: ListFacts) {
  const { mappings, inForce, zone } = facts;
  return (
    <Table
      caption="Mappings of this source, the newest first"
      columns={[
        { head: 'Number', rowHead: true, cell: ({ version }: MappingRecord) => version },
        {
          head: 'Stands as',
          cell: ({ version, inForceMs }) => {
            if (version === inForce) return <Mark tone="good">in force</Mark>;
            return <Mark>{inForceMs === null ? 'proposed' : 'was in force'}</Mark>;
          },
        },
        { head: 'What', cell: (mapping) => <Lines {...mapping} /> },
        {
          head: 'Proposed',
          cell: ({ proposedBy, proposedMs, reason }) => (
            <>
              {actorText(proposedBy)}, <Moment atMs={proposedMs} zone={zone} />
              <br />
              {reason}
            </>
          ),
        },
        { head: 'Tried', cell: (mapping) => <Tried {...{ mapping, facts }} /> },
        { head: 'In force', cell: (mapping) => <InForce {...{ mapping, facts }} /> },
      ]}
      rows={mappings.toReversed()}
      keyOf={({ version }) => String(version)}
      empty="No mapping was proposed: codes and units are read by the standards alone."
    />
  );
}

/** @param mayRead whether the person may see what was sent */
export function UnmappedCodes(facts: {
  codes: readonly UnmappedCode[];
  /** By which messages are read now. */
  inForce: SourceMapping;
  sourceId: string;
  zone: string;
  mayRead: boolean;
}) {
  const { codes, inForce, sourceId, zone, mayRead } = facts;
  const isMapped = ({ code, system }: UnmappedCode): boolean =>
    inForce.codes.some((one) => one.code === code && (one.system ?? system) === system);
  const proposeAddress = ({ code, system, unit }: UnmappedCode): string => {
    const query = new URLSearchParams({ code });
    if (system !== null) query.set('system', system);
    if (unit !== null) query.set('alias', unit);
    return `${SOURCES_PATH}/${sourceId}/mappings/new?${query.toString()}`;
  };
  return (
    <Table
      caption="Codes of rows that nobody could read, the most frequent first"
      columns={[
        { head: 'Code', rowHead: true, cell: ({ code }: UnmappedCode) => <code>{code}</code> },
        { head: 'Name as sent', cell: ({ name }) => name ?? '–' },
        { head: 'Coding system', cell: ({ system }) => system ?? '–' },
        { head: 'Unit as sent', cell: ({ unit }) => unit ?? '–' },
        { head: 'Rows', numeric: true, cell: ({ rows }) => rows },
        {
          head: 'Last',
          cell: ({ lastMs, exampleId }) => {
            const time = <Moment atMs={lastMs} zone={zone} />;
            return mayRead ? <a href={`/desk/submissions/${exampleId}`}>{time}</a> : time;
          },
        },
        {
          head: 'Mapping',
          cell: (code) =>
            isMapped(code) ? (
              'in force by now: these rows wait to be read again'
            ) : (
              <a href={proposeAddress(code)}>
                Propose one<span class="unseen"> for {code.code}</span>
              </a>
            ),
        },
      ]}
      rows={codes}
      keyOf={({ system, code, unit }) => `${system ?? ''} ${code} ${unit ?? ''}`}
      empty="Every code that came is known."
    />
  );
}
