/** Mappings of a source: proposed from a code that came, and put in force. */
import type { Request, Response } from 'express';
import { readMappingProposal } from '../../../deliveries/read-mapping.js';
import { forceMapping, listMappings, proposeMapping } from '../../../store/source-mappings.js';
import type { MappingRecord } from '../../../store/source-mappings.js';
import type { Fault } from '../../../vitals/shapes.js';
import { NO_MAPPING } from '../../../vitals/source-profile.js';
import { idIn, noSuch } from '../../admin/answers.js';
import { mappingNumberIn, mappingNumberInForce, settledForce } from '../../admin/mapping-routes.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import { HttpError } from '../../http/http-error.js';
import type { Route, SignedIn } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';
import { actorOf } from '../../rules/services.js';
import { FaultList } from '../parts/fault-list.js';
import { queryOf } from '../parts/query-of.js';
import { extendMapping } from './extend-mapping.js';
import { MappingForm } from './mapping-form.js';
import type { MappingFields } from './mapping-form.js';
import type { SourcePagesServices } from './services.js';
import { SOURCES_PATH, SourceSides } from './source-sides.js';

const REASON_LENGTH = 500;

/** @param base the mapping that it is added to where the fields do not say */
function fieldsOf(sent: URLSearchParams, base: number | null): MappingFields {
  const text = (name: string): string => sent.get(name) ?? '';
  return {
    ...{ system: text('system'), code: text('code'), vital: text('vital'), part: text('part') },
    ...{ method: text('method'), site: text('site'), alias: text('alias'), unit: text('unit') },
    base: sent.get('base') ?? (base === null ? '' : String(base)),
    reason: text('reason'),
  };
}

/** The newest one, if it came after the one in force: several codes are proposed one after the other. */
function baseOf(mappings: readonly MappingRecord[]): number | null {
  const inForce = mappingNumberInForce(mappings);
  const newest = mappings.at(-1)?.version ?? null;
  return newest !== null && newest > (inForce ?? 0) ? newest : inForce;
}

async function mappingsOf({ pool }: SourcePagesServices, id: string): Promise<MappingRecord[]> {
  const mappings = await listMappings(pool, id);
  if (mappings === null) throw noSuch('source');
  return mappings;
}

function sendForm(
  res: Response,
  caller: SignedIn,
  sourceId: string,
  mappings: readonly MappingRecord[],
  fields: MappingFields,
  faults: readonly Fault[],
): void {
  const status = faults.length === 0 ? 200 : 400;
  sendPage(
    res,
    { title: 'Propose a mapping', current: SOURCES_PATH, caller, status },
    <>
      <SourceSides here="sources" />
      {faults.length > 0 && (
        <FaultList says="Nothing was proposed: the mapping is at fault." faults={faults} />
      )}
      <MappingForm {...{ caller, sourceId, fields, mappings }} />
      <p>
        <a href={`${SOURCES_PATH}/${sourceId}#mappings`}>Back to the source</a>
      </p>
    </>,
  );
}

function formRoute(services: SourcePagesServices): Route {
  return {
    method: 'get',
    path: `${SOURCES_PATH}/:id/mappings/new`,
    by: 'session',
    scopes: ['admin'],
    summary: 'Propose a mapping of a source',
    async handler(req: Request, res: Response, caller: SignedIn) {
      const id = idIn(req, 'source');
      const mappings = await mappingsOf(services, id);
      sendForm(res, caller, id, mappings, fieldsOf(queryOf(req), baseOf(mappings)), []);
    },
  };
}

function proposeRoute(services: SourcePagesServices): Route {
  const { pool, names, clock } = services;
  return {
    method: 'post',
    path: `${SOURCES_PATH}/:id/mappings`,
    by: 'session',
    scopes: ['admin'],
    summary: 'Propose a mapping of a source',
    body: FORM_BODY,
    audit: { action: 'mapping-propose', entity: 'sources/:id/mappings', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const id = idIn(req, 'source');
      const mappings = await mappingsOf(services, id);
      const fields = fieldsOf(formOf(req), null);
      const base = mappings.find(({ version }) => String(version) === fields.base)?.mapping;
      const mapping = extendMapping(base ?? NO_MAPPING, fields);
      const body = Buffer.from(JSON.stringify({ mapping, reason: fields.reason.trim() }));
      const read = readMappingProposal(body);
      if (!read.ok) {
        sendForm(res, caller, id, mappings, fields, read.faults);
        return;
      }
      await proposeMapping(pool, await actorOf(names, caller), id, read.value, clock());
      res.status(303).setHeader('Location', `${SOURCES_PATH}/${id}#mappings`).end();
    },
  };
}

function forceRoute(services: SourcePagesServices): Route {
  const { pool, names, directory, clock } = services;
  return {
    method: 'post',
    path: `${SOURCES_PATH}/:id/mappings/:mapping/force`,
    by: 'session',
    scopes: ['admin'],
    summary: 'Put a mapping of a source in force',
    body: FORM_BODY,
    audit: { action: 'mapping-force', entity: 'sources/:id/mappings/:mapping', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const id = idIn(req, 'source');
      const number = mappingNumberIn(req);
      const form = formOf(req);
      const reason = (form.get('reason') ?? '').trim();
      if (reason === '' || reason.length > REASON_LENGTH) {
        const detail = `Nothing was put in force: give a reason of ${REASON_LENGTH} characters at most.`;
        throw new HttpError({ status: 400, detail });
      }
      const forcing = { reason, untried: form.get('untried') === 'yes' };
      const by = await actorOf(names, caller);
      settledForce(await forceMapping(pool, by, id, number, forcing, clock()));
      directory.forget();
      res.status(303).setHeader('Location', `${SOURCES_PATH}/${id}#mappings`).end();
    },
  };
}

export function mappingPageRoutes(services: SourcePagesServices): Route[] {
  return [formRoute(services), proposeRoute(services), forceRoute(services)];
}
