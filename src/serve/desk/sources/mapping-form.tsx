/** The form that a mapping of one code, one unit spelling, or both, is proposed with. */
import type { MappingRecord } from '../../../store/source-mappings.js';
import { CATALOGUE } from '../../../vitals/catalogue.js';
import { ENTERED_UNITS, METHODS, SITES, VITALS } from '../../../vitals/words.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { mappingText } from './mapping-list.js';
import { SOURCES_PATH } from './source-sides.js';

/** As they were sent, or as a link to the form has them. */
export interface MappingFields {
  readonly system: string;
  readonly code: string;
  readonly vital: string;
  readonly part: string;
  readonly method: string;
  readonly site: string;
  readonly alias: string;
  readonly unit: string;
  /** Number of the mapping that it is added to; empty: to none. */
  readonly base: string;
  readonly reason: string;
}

type Option = readonly [value: string, label: string];

function Choice(facts: {
  name: keyof MappingFields;
  label: string;
  none: string;
  options: readonly Option[];
  fields: MappingFields;
}) {
  const { name, label, none, options, fields } = facts;
  const id = `mapping-${name}`;
  return (
    <Field id={id} label={label}>
      <select id={id} name={name}>
        <option value="">{none}</option>
        {options.map(([value, words]) => (
          <option key={value} value={value} selected={value === fields[name]}>
            {words}
          </option>
        ))}
      </select>
    </Field>
  );
}

function Text(facts: {
  name: keyof MappingFields;
  label: string;
  hint?: string;
  fields: MappingFields;
}) {
  const { name, label, hint, fields } = facts;
  const id = `mapping-${name}`;
  return (
    <Field id={id} label={label} {...(hint !== undefined && { hint })}>
      <input
        id={id}
        name={name}
        value={fields[name]}
        maxLength={200}
        {...(hint !== undefined && { 'aria-describedby': `${id}-hint` })}
      />
    </Field>
  );
}

const named = (words: readonly string[]): Option[] => words.map((word) => [word, wordText(word)]);

/** Signs that a code can stand for: consciousness is told by words, which no mapping reads. */
const SIGNS = VITALS.filter((vital) => CATALOGUE[vital].form !== 'code');

function CodeFields({ fields }: { fields: MappingFields }) {
  return (
    <fieldset>
      <legend>A code</legend>
      <div class="row">
        <Text {...{ name: 'code', label: 'Code', fields }} />
        <Text
          {...{ name: 'system', label: 'Coding system', fields }}
          hint="As the message names it; empty: whatever stands there."
        />
        <Choice
          {...{ name: 'vital', label: 'Stands for', none: 'choose a sign', fields }}
          options={SIGNS.map((vital) => [vital, signText(vital)])}
        />
        <Choice
          {...{ name: 'part', label: 'Part of a pressure', none: 'none', fields }}
          options={named(['systolic', 'diastolic', 'mean'])}
        />
        <Choice
          {...{ name: 'method', label: 'Method', none: 'not told by the code', fields }}
          options={named(METHODS)}
        />
        <Choice
          {...{ name: 'site', label: 'Site', none: 'not told by the code', fields }}
          options={named(SITES)}
        />
      </div>
    </fieldset>
  );
}

export function MappingForm(facts: {
  caller: SignedIn;
  sourceId: string;
  fields: MappingFields;
  mappings: readonly MappingRecord[];
}) {
  const { caller, sourceId, fields, mappings } = facts;
  const bases = mappings.map(({ version, mapping }): Option => [
    String(version),
    `mapping ${version} (${mappingText(mapping)})`,
  ]);
  return (
    <form method="post" action={`${SOURCES_PATH}/${sourceId}/mappings`}>
      <CsrfField caller={caller} />
      <CodeFields fields={fields} />
      <fieldset>
        <legend>A spelling of a unit</legend>
        <div class="row">
          <Text {...{ name: 'alias', label: 'As it is sent', fields }} />
          <Choice
            {...{ name: 'unit', label: 'Stands for', none: 'choose a unit', fields }}
            options={ENTERED_UNITS.map((unit) => [unit, unit])}
          />
        </div>
      </fieldset>
      <div class="row">
        <Choice {...{ name: 'base', label: 'Added to', none: 'nothing', fields }} options={bases} />
        <Field id="mapping-reason" label="Reason">
          <input id="mapping-reason" name="reason" value={fields.reason} maxLength={500} required />
        </Field>
      </div>
      <p>
        <button type="submit">Propose it</button>
      </p>
      <p class="hint">Nothing is read by it before it was tried and put in force.</p>
    </form>
  );
}
