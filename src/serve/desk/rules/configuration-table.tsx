/** What a configuration says that differs from the defaults, and from what is in force. */
import { limitsOf } from '../../../vitals/site-rules.js';
import type { SiteRules } from '../../../vitals/site-rules.js';
import { Table } from '../../pages/parts/table.js';

interface Row {
  readonly what: string;
  readonly here: string;
  readonly source: string;
  readonly inForce: string;
}

/** What the gateway comes with, by id of the setting. */
const DEFAULTS = new Map(
  limitsOf({}).all.map(({ id, at, unit }) => [id, `${at} ${unit} (default)`]),
);

const CALCULATED = 'calculated values';

/** A member as words: `15 mm[Hg]`, `switched off`. What is absent is as it comes. */
function wordsOf(
  configuration: Partial<SiteRules>,
): Map<string, { words: string; source: string }> {
  const { settings = {}, rules = {}, derivedValues } = configuration;
  const all = new Map<string, { words: string; source: string }>();
  for (const [id, { at, unit, source }] of Object.entries(settings)) {
    const where = [source.document, source.section, source.year].filter((one) => one !== undefined);
    all.set(id, { words: `${at} ${unit}`, source: where.join(', ') });
  }
  for (const [id, { enabled }] of Object.entries(rules)) {
    all.set(`rule ${id}`, { words: enabled ? 'on' : 'switched off', source: '' });
  }
  if (derivedValues !== undefined) {
    const words = derivedValues.enabled ? 'calculated' : 'not calculated';
    all.set(CALCULATED, { words, source: '' });
  }
  return all;
}

function defaultOf(what: string): string {
  if (what === CALCULATED) return 'not calculated (default)';
  return DEFAULTS.get(what) ?? 'on (default)';
}

function rowsOf(configuration: Partial<SiteRules>, inForce: Partial<SiteRules>): Row[] {
  const [here, there] = [wordsOf(configuration), wordsOf(inForce)];
  return [...new Set([...here.keys(), ...there.keys()])].sort().map((what) => ({
    what,
    here: here.get(what)?.words ?? defaultOf(what),
    source: here.get(what)?.source ?? '',
    inForce: there.get(what)?.words ?? defaultOf(what),
  }));
}

/** @param inForce the configuration that judges now; the same one where nothing is to be compared */
export function ConfigurationTable(facts: {
  caption: string;
  configuration: Partial<SiteRules>;
  inForce: Partial<SiteRules>;
}) {
  return (
    <Table
      caption={facts.caption}
      columns={[
        { head: 'What', rowHead: true, cell: ({ what }: Row) => <code>{what}</code> },
        {
          head: 'Here',
          cell: ({ here, inForce }) =>
            here === inForce ? here : <strong>{`${here} (differs)`}</strong>,
        },
        { head: 'In force now', cell: ({ inForce }) => inForce },
        { head: 'Source given', cell: ({ source }) => source },
      ]}
      rows={rowsOf(facts.configuration, facts.inForce)}
      keyOf={({ what }) => what}
      empty="Nothing differs from the defaults, neither here nor in what is in force."
    />
  );
}
