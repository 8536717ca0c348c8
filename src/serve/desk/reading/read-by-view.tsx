/** By which mapping of its source a message was read. */
import type { MappingThen } from '../../../store/source-mappings.js';
import type { SourceMapping } from '../../../vitals/source-profile.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { wordText } from '../../pages/parts/value-text.js';
import { picture } from '../submissions/inert-text.js';

interface ReadBy {
  readonly mapping: MappingThen;
  readonly source: string;
  readonly zone: string;
}

function wordsOf({ codes, units }: SourceMapping): { sent: string; readAs: string }[] {
  return [
    ...codes.map(({ system, code, vital, part, method, site }) => ({
      sent: system === undefined ? code : `${code} in ${system}`,
      readAs: [vital, part, method, site]
        .filter((word) => word !== undefined)
        .map(wordText)
        .join(', '),
    })),
    ...units.map(({ alias, unit }) => ({ sent: alias, readAs: unit })),
  ];
}

/** How the sender's own codes and units were read; sets in JSON have none. */
export function ReadByView({ mapping, source, zone }: ReadBy) {
  const { inForce, changedSince } = mapping;
  if (changedSince) {
    return (
      <p>
        Read by the mapping that {source} had then. Another was put in force since: the audit trail
        tells when.
      </p>
    );
  }
  if (inForce === null) return <p>Read by the standard codes alone: {source} had no mapping.</p>;
  const { version, inForceMs, mapping: words } = inForce;
  return (
    <>
      <p>
        Read by mapping {version} of {source}
        {inForceMs !== null && (
          <>
            , in force since <Moment atMs={inForceMs} zone={zone} />
          </>
        )}
        , and by the standard codes where it says nothing.
      </p>
      <Table
        caption={`What mapping ${version} says`}
        columns={[
          { head: 'As sent', rowHead: true, cell: ({ sent }) => <code>{picture(sent)}</code> },
          { head: 'Read as', cell: ({ readAs }) => readAs },
        ]}
        rows={wordsOf(words)}
        keyOf={({ sent }) => sent}
        empty="Nothing."
      />
    </>
  );
}
