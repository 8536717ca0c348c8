/** The form that what was refused is searched with, and the ways to its other sides. */
import type { ComponentChildren } from 'preact';
import { REASON_CODES } from '../../../vitals/decisions.js';
import { UNREAD_REASONS } from '../../../vitals/device-report.js';
import { VITALS } from '../../../vitals/words.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { Sides } from '../parts/sides.js';
import { addressOf, REFUSED_STATUSES } from './search-fields.js';
import type { FieldName, RefusedThing, RejectedSearch } from './search-fields.js';

export const REJECTED_PATH = '/desk/rejected';

const OFF = 'off' as const;

/** What an HTTP status says of a submission, in words of the page. */
export const STATUS_WORDS: Readonly<Record<number, string>> = {
  400: 'not readable, or against the form',
  409: 'other content under a known id',
  412: 'a condition did not hold',
  422: 'every reading rejected',
};

export const UNREAD_WORDS: Readonly<Record<(typeof UNREAD_REASONS)[number], string>> = {
  'code-unmapped': 'no mapping knows its code',
  'not-a-vital-sign': 'not a vital sign',
  'no-value': 'no value',
  'original-not-found': 'corrects what is not here',
};

const THING_LABELS: Readonly<Record<RefusedThing, string>> = {
  readings: 'Readings',
  submissions: 'Whole submissions',
  rows: 'Rows of messages',
};

/** The sides of what was refused; the search goes along where it fits. */
export function RejectedSides({
  search,
  here,
  mayWrite,
}: {
  search: RejectedSearch;
  here: RefusedThing | 'counts' | 'again';
  mayWrite: boolean;
}) {
  const things = (Object.keys(THING_LABELS) as RefusedThing[]).map((thing) => ({
    href: addressOf(REJECTED_PATH, { thing, fields: search.fields }),
    label: THING_LABELS[thing],
    isHere: here === thing,
  }));
  const counts = {
    href: addressOf(`${REJECTED_PATH}/counts`, { thing: 'readings', fields: search.fields }),
    label: 'Counts over time',
    isHere: here === 'counts',
  };
  const again = {
    href: `${REJECTED_PATH}/again`,
    label: 'Read messages again',
    isHere: here === 'again',
  };
  return (
    <Sides label="What was refused" sides={[...things, counts, ...(mayWrite ? [again] : [])]} />
  );
}

interface FormFacts {
  readonly search: RejectedSearch;
  readonly caller: SignedIn;
  readonly ruleIds: readonly string[];
  readonly sources: readonly string[];
  /** The page that shows what is found. */
  readonly path: string;
  /** May name a patient: then the form is sent as a body, never in an address. */
  readonly asksPatient: boolean;
  /** In which times are read. */
  readonly zone: string;
}

/** Fields of each thing that can be searched, in the order of the form. */
const FIELDS: Readonly<Record<RefusedThing, readonly FieldName[]>> = {
  readings: ['from', 'to', 'source', 'ward', 'device', 'vital', 'rule', 'by', 'reason', 'patient'],
  submissions: ['from', 'to', 'source', 'status'],
  rows: ['from', 'to', 'source', 'unread', 'code'],
};

const LABELS: Readonly<Record<FieldName, string>> = {
  from: 'From',
  to: 'Until',
  source: 'Source',
  ward: 'Ward or place',
  device: 'Device',
  vital: 'Sign',
  rule: 'Rule',
  by: 'Rejected by',
  reason: 'Reason given',
  status: 'Why',
  unread: 'Why',
  code: 'Code',
  patient: 'Patient identifier',
};

type Option = readonly [value: string, label: string];

function optionsOf(name: FieldName, { ruleIds, sources }: FormFacts): readonly Option[] | null {
  switch (name) {
    case 'source':
      return sources.map((source) => [source, source]);
    case 'vital':
      return VITALS.map((vital) => [vital, signText(vital)]);
    case 'rule':
      return ruleIds.map((rule) => [rule, rule]);
    case 'by':
      return [
        ['rules', 'the rules'],
        ['person', 'a person'],
      ];
    case 'reason':
      return REASON_CODES.map((code) => [code, wordText(code)]);
    case 'status':
      return REFUSED_STATUSES.map((status) => [String(status), STATUS_WORDS[status] ?? '']);
    case 'unread':
      return UNREAD_REASONS.map((reason) => [reason, UNREAD_WORDS[reason]]);
    case 'from':
    case 'to':
    case 'ward':
    case 'device':
    case 'code':
    case 'patient':
      return null;
  }
}

function Input({ name, facts }: { name: FieldName; facts: FormFacts }) {
  const value = facts.search.fields[name] ?? '';
  const fault = facts.search.faults[name];
  const shared = {
    id: `search-${name}`,
    name,
    ...(fault !== undefined && {
      'aria-invalid': 'true' as const,
      'aria-describedby': `search-${name}-fault`,
    }),
  };
  const options = optionsOf(name, facts);
  if (options === null) {
    const field = { ...shared, value, autocomplete: OFF };
    return name === 'from' || name === 'to' ? (
      <input {...field} type="datetime-local" />
    ) : (
      <input {...field} type="text" maxLength={300} />
    );
  }
  const known = options.some(([one]) => one === value) || value === '';
  return (
    <select {...shared}>
      <option value="">any</option>
      {!known && (
        <option value={value} selected>
          {value}
        </option>
      )}
      {options.map(([one, label]) => (
        <option key={one} value={one} selected={one === value}>
          {label}
        </option>
      ))}
    </select>
  );
}

/** What is searched for. A search that names no patient leads to an address, which can be kept. */
export function SearchForm(facts: FormFacts): ComponentChildren {
  const { search, caller, path, asksPatient, zone } = facts;
  const names = FIELDS[search.thing].filter((name) => asksPatient || name !== 'patient');
  return (
    <form
      class="search"
      method={asksPatient ? 'post' : 'get'}
      action={asksPatient ? `${path}/search` : path}
    >
      {asksPatient && <CsrfField caller={caller} />}
      <input type="hidden" name="of" value={search.thing} />
      <div class="row">
        {names.map((name) => (
          <Field key={name} id={`search-${name}`} label={LABELS[name]} fault={search.faults[name]}>
            <Input name={name} facts={facts} />
          </Field>
        ))}
      </div>
      <p>
        <button type="submit" class="main">
          Search
        </button>{' '}
        <a href={addressOf(path, { thing: search.thing, fields: {} })}>Clear</a>{' '}
        <span class="hint">Times are those of {zone}.</span>
      </p>
    </form>
  );
}

/** The fields again, for a form that does something with what was found. */
export function HiddenSearch({ search }: { search: RejectedSearch }) {
  return (
    <>
      <input type="hidden" name="of" value={search.thing} />
      {Object.entries(search.fields).map(([name, value]) => (
        <input key={name} type="hidden" name={name} value={value} />
      ))}
    </>
  );
}
