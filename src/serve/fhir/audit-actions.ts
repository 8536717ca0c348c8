/**
 * What the words of the audit trail are in the codes of FHIR R4, resource AuditEvent. The words of each code
 * are a regular expression, in the form that JavaScript and PostgreSQL share: a search asks the database
 * for the very words that an entry is rendered by.
 */
import type { AuditEvent, Coding } from 'fhir/r4.js';
import type { ActionSet } from '../../store/find-audit.js';
import { matchesToken } from './token-values.js';
import type { Token } from './token-values.js';

const DCM = 'http://dicom.nema.org/resources/ontology/DCM';
const INTERACTIONS = 'http://hl7.org/fhir/restful-interaction';
const ACTION_SYSTEM = 'http://hl7.org/fhir/audit-event-action';
/** The gateway's own words for what was done. */
const WORDS = 'urn:vital-sign-gateway:audit-action';
const WORD = /^[a-z-]{1,100}$/;

/** A code, and the words that it stands for. */
interface Meaning {
  readonly coding: Coding;
  readonly words: string;
}

function dicom(code: string, display: string, words: string): Meaning {
  return { coding: { system: DCM, code, display }, words };
}

function interaction(code: string, words: string): Meaning {
  return { coding: { system: INTERACTIONS, code, display: code }, words };
}

/** What the gateway does without being asked. */
const OWN_DOINGS = '^(hold-|identity-settled$|process-|looks-lost$|audit-cleared$)';
const OWN_DOING = new RegExp(OWN_DOINGS);

/** Types that are none of a request to the interface; every other word is of that. Of DICOM, as far as R4 takes them over. */
const OTHER_TYPES: readonly Meaning[] = [
  dicom('110106', 'Export', '^(export-(started|file)|subscription-notified)$'),
  dicom('110114', 'User Authentication', '^(sign-in|signed-|person-token)'),
  dicom('110100', 'Application Activity', '^(process-|looks-lost$)'),
  dicom('110101', 'Audit Log Used', '^audit-cleared$'),
  {
    coding: {
      system: 'urn:vital-sign-gateway:audit-type',
      code: 'gateway',
      display: 'Done by the gateway itself',
    },
    words: '^(hold-|identity-settled$)',
  },
];
const REST: Coding = {
  system: 'http://terminology.hl7.org/CodeSystem/audit-event-type',
  code: 'rest',
  display: 'RESTful Operation',
};

const OTHER_SUBTYPES: readonly Meaning[] = [
  dicom('110120', 'Application Start', '^process-started$'),
  dicom('110121', 'Application Stop', '^process-(stopped|lost)$'),
  dicom('110122', 'Login', '^(sign-in|signed-in)'),
  dicom('110123', 'Logout', '^signed-out'),
];

const CREATES =
  '^(set-(received|refused|repeated|conflict)|message-.*|reference-check(-refused)?|(client|source|device|subscription)-add|(edition|mapping)-propose|trial-start)$';
const UPDATES =
  '^(register-patient|decision-.*|patients-.*|hold-.*|identity-settled|edition-(approve|refuse)|client-(rotate|disable|enable|end|keys|external-id)|trial-cancel|subscription-change|(source|device|mapping)-(?!add$|propose$|read$|list$).*)$';

/** `AuditEvent.action`; every other word is E, execute. */
export const ACTION_CODES = ['C', 'R', 'U', 'D', 'E'] as const;
type ActionCode = (typeof ACTION_CODES)[number];
const ACTIONS: Readonly<Record<Exclude<ActionCode, 'E'>, string>> = {
  C: CREATES,
  R: '^(.*-(read|vread|raw|history|file)|subscription-notified)$',
  U: UPDATES,
  D: '^(audit-cleared|subscription-delete)$',
};

/** The interactions of FHIR that requests are, or are nearest to; every other one is an operation. */
const OTHER_INTERACTIONS: readonly Meaning[] = [
  interaction('read', '^.*-(read|raw)$'),
  interaction('vread', '^.*-vread$'),
  interaction('history', '^.*-history$'),
  interaction('search-type', '^.*-(search|list|summary|submissions|merges)$'),
  interaction('batch', '^fhir-batch$'),
  interaction('create', CREATES),
  interaction('update', UPDATES),
  interaction('delete', '^subscription-delete$'),
];
const OPERATION: Coding = { system: INTERACTIONS, code: 'operation', display: 'operation' };
/** A request that was refused was none. */
const REFUSED = '^refused$';

const meets = (words: string, action: string): boolean => new RegExp(words).test(action);

export function actionCodeOf(action: string): ActionCode {
  const codes = ['C', 'R', 'U', 'D'] as const;
  return codes.find((code) => meets(ACTIONS[code], action)) ?? 'E';
}

export function isOwnDoing(action: string): boolean {
  return OWN_DOING.test(action);
}

function subtypeOf(action: string, type: Coding): Coding | undefined {
  const of = (rows: readonly Meaning[]): Coding | undefined =>
    rows.find(({ words }) => meets(words, action))?.coding;
  if (type !== REST) return of(OTHER_SUBTYPES);
  return meets(REFUSED, action) ? undefined : (of(OTHER_INTERACTIONS) ?? OPERATION);
}

/** `AuditEvent.type` and `.subtype` of an action; the last subtype is the gateway's own word. */
export function codingsOf(action: string): Pick<AuditEvent, 'type'> & { subtype: Coding[] } {
  const own = { system: WORDS, code: action };
  const type = OTHER_TYPES.find(({ words }) => meets(words, action))?.coding ?? REST;
  const subtype = subtypeOf(action, type);
  return { type, subtype: subtype === undefined ? [own] : [subtype, own] };
}

const wordsOf = (rows: readonly Meaning[]): string[] => rows.map(({ words }) => words);
const REST_ONLY: readonly string[] = wordsOf(OTHER_TYPES);

function isMeant(tokens: readonly Token[], { system = '', code = '' }: Coding): boolean {
  return tokens.some((token) => matchesToken(token, { system, code }));
}

function meant(tokens: readonly Token[], rows: readonly Meaning[]): ActionSet[] {
  return rows
    .filter(({ coding }) => isMeant(tokens, coding))
    .map(({ words }) => ({ like: words, unlike: [] }));
}

/** The words that one of these tokens means as `action`. */
export function actionsByCode(tokens: readonly Token[]): ActionSet[] {
  return ACTION_CODES.filter((code) => isMeant(tokens, { system: ACTION_SYSTEM, code })).map(
    (code): ActionSet =>
      code === 'E'
        ? { like: null, unlike: Object.values(ACTIONS) }
        : { like: ACTIONS[code], unlike: [] },
  );
}

export function actionsByType(tokens: readonly Token[]): ActionSet[] {
  const rest = isMeant(tokens, REST) ? [{ like: null, unlike: REST_ONLY }] : [];
  return [...meant(tokens, OTHER_TYPES), ...rest];
}

export function actionsBySubtype(tokens: readonly Token[]): ActionSet[] {
  const requests = meant(tokens, OTHER_INTERACTIONS).map((one) => ({ ...one, unlike: REST_ONLY }));
  const unlike = [...REST_ONLY, REFUSED, ...wordsOf(OTHER_INTERACTIONS)];
  const operations = isMeant(tokens, OPERATION) ? [{ like: null, unlike }] : [];
  const own = tokens.filter(({ code }) => WORD.test(code));
  const words = own.filter((token) => isMeant([token], { system: WORDS, code: token.code }));
  return [
    ...meant(tokens, OTHER_SUBTYPES),
    ...requests,
    ...operations,
    ...words.map(({ code }) => ({ like: `^${code}$`, unlike: [] })),
  ];
}

export const OUTCOME_CODES = ['0', '4', '8', '12'] as const;

/** `AuditEvent.outcome` of an HTTP status; the same as the store's SQL. */
export function outcomeOf(action: string, status: number): (typeof OUTCOME_CODES)[number] {
  if (action === 'process-lost') return '12';
  if (status >= 200 && status < 400) return '0';
  return status >= 500 ? '8' : '4';
}
