/** What a kick-off asks for (Bulk Data Access, "Bulk Data Kick-off Request"): read and checked, before anything is kept. */
import type { Handling } from '../fhir/parse-search.js';
import { printableName } from '../fhir/query-parameters.js';
import type { Pair } from '../fhir/query-parameters.js';
import { badValue, refusal } from '../fhir/refuse.js';
import { readStatedTime } from '../fhir/search-date.js';
import type { SearchContext } from '../fhir/search-parameter.js';
import { isId } from '../fhir/site.js';
import { ValueFault } from '../fhir/token-values.js';
import { EXPORTABLE } from './export-types.js';
import type { Exportable } from './export-types.js';

/** Whose data: everything, all patients' (which differs where a type belongs to none), or a ward's. */
export type ExportLevel = 'system' | 'patient' | 'group';

export interface ExportRequest {
  /** Null: every type that the client may read. */
  readonly types: readonly Exportable['type'][] | null;
  readonly sinceMs: number | null;
  readonly untilMs: number | null;
  /** Null: nobody was named. */
  readonly patientIds: readonly string[] | null;
  /** Searches by type. */
  readonly filters: Readonly<Record<string, readonly string[]>>;
}

export interface KickOff {
  readonly level: ExportLevel;
  readonly method: string;
  readonly handling: Handling;
}

/** Names of the form of NDJSON; with a space, what an unescaped plus sign arrives as. */
const FORMATS = [
  'application/fhir+ndjson',
  'application/fhir ndjson',
  'application/ndjson',
  'ndjson',
];
const MAX_PATIENTS = 1000;
const MAX_FILTERS = 20;
/** Read by whoever chooses the form of the answer. */
const FORM = ['_format', '_pretty'];
const ONCE = ['_outputFormat', '_since', '_until'] as const;
const INSTANT = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,9})?(?:Z|[+-]\d\d:\d\d)$/;

/** @throws HttpError 400 for what cannot be understood, or is not offered unless handling is lenient. */
export function readExportRequest(
  pairs: readonly Pair[],
  kickOff: KickOff,
  context: SearchContext,
): ExportRequest {
  checkNames(pairs, kickOff);
  const all = (name: string): string[] =>
    pairs.flatMap(([one, value]) => (one === name ? [value] : []));
  const only = (name: (typeof ONCE)[number]): string | null => {
    const [value = null, ...more] = all(name);
    if (more.length > 0) throw badValue(name, 'stands more than once');
    return value;
  };
  const format = only('_outputFormat');
  if (format !== null && !FORMATS.includes(format)) {
    throw badValue('_outputFormat', `is not one of ${FORMATS.join(', ')}`);
  }
  const sinceMs = readInstant('_since', only('_since'), context);
  const untilMs = readInstant('_until', only('_until'), context);
  const offered = EXPORTABLE.filter(({ ofPatients }) => kickOff.level === 'system' || ofPatients);
  const types = readTypes(all('_type'), offered);
  const filters = readFilters(all('_typeFilter'), types, offered, context);
  const named = isPatientOffered(kickOff) ? all('patient') : [];
  const patientIds = named.length === 0 ? null : readPatients(named, context);
  return { types, sinceMs, untilMs, patientIds, filters };
}

function isPatientOffered({ level, method }: KickOff): boolean {
  return level !== 'system' && method === 'POST';
}

function checkNames(pairs: readonly Pair[], kickOff: KickOff): void {
  const offered = [
    ...FORM,
    ...ONCE,
    '_type',
    '_typeFilter',
    ...(isPatientOffered(kickOff) ? ['patient'] : []),
  ];
  for (const [name, value] of pairs) {
    const shown = printableName(name);
    if (offered.includes(name)) {
      if (value === '') throw badValue(shown, 'has no value');
    } else if (kickOff.handling !== 'lenient') {
      const text = `${shown} is not offered here; Prefer: handling=lenient passes over it.`;
      throw refusal(400, 'not-supported', text, `http.${shown}`);
    }
  }
}

function readInstant(name: string, value: string | null, { siteMs }: SearchContext): number | null {
  if (value === null) return null;
  if (!INSTANT.test(value)) {
    throw badValue(name, 'is no instant, such as 2026-03-01T08:00:00Z (a + is written %2B)');
  }
  try {
    return readStatedTime(value, siteMs).fromMs;
  } catch (error) {
    if (error instanceof ValueFault) throw badValue(name, error.message);
    throw error;
  }
}

function readTypes(
  values: readonly string[],
  offered: readonly Exportable[],
): Exportable['type'][] | null {
  if (values.length === 0) return null;
  const names = values.flatMap((value) => value.split(','));
  return [...new Set(names)].map((name) => {
    const found = offered.find(({ type }) => type === name);
    if (found === undefined) {
      const types = [...new Set(offered.map(({ type }) => type))].join(', ');
      throw badValue('_type', `takes one or more of ${types} here`);
    }
    return found.type;
  });
}

/** A filter is `Type?name=value&…`; several stand in one parameter with commas, or in one each. */
function readFilters(
  values: readonly string[],
  types: readonly Exportable['type'][] | null,
  offered: readonly Exportable[],
  context: SearchContext,
): Record<string, string[]> {
  const filters: Record<string, string[]> = {};
  const list = values.flatMap((value) => value.split(/,(?=[A-Z][A-Za-z]*\?)/));
  if (list.length > MAX_FILTERS) throw badValue('_typeFilter', `takes at most ${MAX_FILTERS}`);
  for (const one of list) {
    const [, name = '', query = ''] = /^([A-Z][A-Za-z]*)\?(.+)$/s.exec(one) ?? [];
    const row = offered.find(({ type, checkFilter }) => type === name && checkFilter !== null);
    if (row === undefined) {
      throw badValue('_typeFilter', 'takes searches such as Observation?code=8867-4');
    }
    if (types?.includes(row.type) === false) {
      throw badValue('_typeFilter', `names ${row.type}, which _type does not`);
    }
    row.checkFilter?.(query, context);
    filters[row.type] = [...(filters[row.type] ?? []), query];
  }
  return filters;
}

function readPatients(values: readonly string[], { baseUrl }: SearchContext): string[] {
  if (values.length > MAX_PATIENTS) throw badValue('patient', `takes at most ${MAX_PATIENTS}`);
  return values.map((value) => {
    const own = value.startsWith(`${baseUrl}/`) ? value.slice(baseUrl.length + 1) : value;
    const id = own.startsWith('Patient/') ? own.slice('Patient/'.length) : '';
    if (!isId(id)) throw badValue('patient', 'takes references to patients here: Patient/id');
    return id;
  });
}
