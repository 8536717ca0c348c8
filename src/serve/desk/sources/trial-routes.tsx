/** A message of a source tried: typed or pasted, read and judged as it would be, and nothing is kept. */
import type { Request, Response } from 'express';
import { listMappings } from '../../../store/source-mappings.js';
import { findSource } from '../../../store/sources.js';
import type { SourceRecord } from '../../../store/sources.js';
import { idIn, noSuch } from '../../admin/answers.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import type { Route, SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { Notice } from '../../pages/parts/notice.js';
import { sendPage } from '../../pages/send-page.js';
import { queryOf } from '../parts/query-of.js';
import type { SourcePagesServices } from './services.js';
import { SOURCES_PATH, SourceSides } from './source-sides.js';
import { TrialResult } from './trial-result.js';

/** As forms send it a message grows to three times its bytes at most. */
const MAX_FORM_BYTES = 3 * 1024 * 1024;

const KINDS = [
  ['application/hl7-v2', 'HL7 v2 message'],
  ['application/json', 'Set as JSON'],
  ['application/fhir+json', 'FHIR Observation or Bundle'],
] as const;

interface TrialFields {
  readonly kind: string;
  readonly mapping: string;
  readonly message: string;
}

function fieldsOf(sent: URLSearchParams): TrialFields {
  return {
    kind: sent.get('kind') ?? KINDS[0][0],
    mapping: sent.get('mapping') ?? '',
    message: sent.get('message') ?? '',
  };
}

/** Segments end with a carriage return (HL7 v2.9.1 §2.4.4); text fields of browsers give CR and LF. */
function bytesOf({ kind, message }: TrialFields): Buffer {
  return Buffer.from(kind === 'application/hl7-v2' ? message.replace(/\r\n?|\n/g, '\r') : message);
}

function TrialForm(facts: {
  caller: SignedIn;
  sourceId: string;
  fields: TrialFields;
  numbers: readonly number[];
}) {
  const { caller, sourceId, fields, numbers } = facts;
  return (
    <form method="post" action={`${SOURCES_PATH}/${sourceId}/try`}>
      <CsrfField caller={caller} />
      <div class="row">
        <Field id="try-kind" label="What it is">
          <select id="try-kind" name="kind">
            {KINDS.map(([type, label]) => (
              <option key={type} value={type} selected={type === fields.kind}>
                {label}
              </option>
            ))}
          </select>
        </Field>
        <Field id="try-mapping" label="Read with">
          <select id="try-mapping" name="mapping">
            <option value="">the mapping in force</option>
            {numbers.map((number) => (
              <option key={number} value={number} selected={String(number) === fields.mapping}>
                {`mapping ${number}`}
              </option>
            ))}
          </select>
        </Field>
      </div>
      <Field
        id="try-message"
        label="The message"
        hint="One segment a line for HL7 v2. It is sent on as UTF-8; MSH-18 is read as it says."
      >
        <textarea
          id="try-message"
          name="message"
          rows={12}
          spellcheck={false}
          aria-describedby="try-message-hint"
          required
        >
          {fields.message}
        </textarea>
      </Field>
      <p>
        <button type="submit">Try it</button>
      </p>
    </form>
  );
}

async function sourceOf({ pool }: SourcePagesServices, req: Request): Promise<SourceRecord> {
  const source = await findSource(pool, idIn(req, 'source'));
  if (source === null) throw noSuch('source');
  return source;
}

type Outcome =
  { readonly told: Readonly<Record<string, unknown>> } | { readonly fault: string } | null;

async function send(
  services: SourcePagesServices,
  res: Response,
  caller: SignedIn,
  source: SourceRecord,
  fields: TrialFields,
  outcome: Outcome,
): Promise<void> {
  const { sourceId, name } = source;
  const mappings = (await listMappings(services.pool, sourceId)) ?? [];
  const isFault = outcome !== null && 'fault' in outcome;
  const facts = { title: 'Try a message', current: SOURCES_PATH, caller, wide: true };
  sendPage(
    res,
    { ...facts, status: isFault ? 400 : 200 },
    <>
      <SourceSides here="sources" />
      <p>
        As <a href={`${SOURCES_PATH}/${sourceId}`}>{name}</a> would send it.
      </p>
      {isFault && <Notice kind="fault">{outcome.fault}</Notice>}
      {outcome !== null && 'told' in outcome && (
        <TrialResult told={outcome.told} sourceId={sourceId} />
      )}
      <TrialForm
        {...{ caller, sourceId, fields, numbers: mappings.map(({ version }) => version).reverse() }}
      />
    </>,
  );
}

async function tryIt(
  services: SourcePagesServices,
  source: SourceRecord,
  fields: TrialFields,
): Promise<Exclude<Outcome, null>> {
  if (!KINDS.some(([type]) => type === fields.kind)) return { fault: 'Choose what it is.' };
  const mapping = /^[1-9]\d{0,3}$/.test(fields.mapping) ? Number(fields.mapping) : null;
  if (mapping === null && fields.mapping !== '') return { fault: 'There is no such mapping.' };
  const told = await services.tryMessage(source.sourceId, {
    bytes: bytesOf(fields),
    mediaType: fields.kind,
    mapping,
  });
  if (told === 'no-source') throw noSuch('source');
  return told === 'no-mapping' ? { fault: 'There is no such mapping.' } : { told };
}

export function messageTrialPageRoutes(services: SourcePagesServices): Route[] {
  const path = `${SOURCES_PATH}/:id/try`;
  return [
    {
      method: 'get',
      path,
      by: 'session',
      scopes: ['admin'],
      summary: 'Try a message of a source',
      async handler(req: Request, res: Response, caller: SignedIn) {
        const source = await sourceOf(services, req);
        await send(services, res, caller, source, fieldsOf(queryOf(req)), null);
      },
    },
    {
      method: 'post',
      path,
      by: 'session',
      scopes: ['admin'],
      summary: 'How a message of a source would be understood and judged',
      body: { ...FORM_BODY, maxBytes: MAX_FORM_BYTES },
      audit: { action: 'message-tried', entity: 'sources/:id' },
      async handler(req: Request, res: Response, caller: SignedIn) {
        const source = await sourceOf(services, req);
        const fields = fieldsOf(formOf(req));
        await send(services, res, caller, source, fields, await tryIt(services, source, fields));
      },
    },
  ];
}
