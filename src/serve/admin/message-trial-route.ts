/** One message of a source tried: how it would be understood and judged, with nothing kept. */
import type { Request, Response } from 'express';
import type { Route } from '../http/route.js';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import { idIn, idParameter, noSuch, noSuchResponse, refuse } from './answers.js';

/** What trying a message needs. */
export interface MessageTrialServices {
  readonly mediaTypes: readonly string[];
  /**
   * Null: there is no such source, or it has no mapping of that number.
   * @param mapping a proposed mapping to read with; null: the one in force
   */
  readonly tryMessage: (
    sourceId: string,
    message: {
      readonly bytes: Buffer;
      readonly mediaType: string;
      readonly mapping: number | null;
    },
  ) => Promise<Readonly<Record<string, unknown>> | 'no-source' | 'no-mapping'>;
}

/** As for messages on the listener. */
const MAX_BYTES = 1024 * 1024;

function mappingIn(req: Request): number | null {
  const { mapping } = req.query;
  if (mapping === undefined) return null;
  if (typeof mapping !== 'string' || !/^[1-9]\d{0,3}$/.test(mapping)) {
    throw refuse(400, 'mapping must be the number of a mapping of this source.');
  }
  return Number(mapping);
}

export function messageTrialRoute(services: MessageTrialServices): Route {
  const content = Object.fromEntries(
    services.mediaTypes.map((type) => [
      type,
      { schema: type.endsWith('json') ? { type: 'object' } : { type: 'string' } },
    ]),
  );
  return {
    method: 'post',
    path: '/admin/sources/:id/trial',
    scopes: ['admin'],
    summary: 'Try one message of a source: how every field is understood and judged',
    description:
      'Nothing is kept but an audit line: no reading, no registration, no association. The body is the message itself, of any kind that the gateway takes.',
    parameters: [
      idParameter('source'),
      {
        name: 'mapping',
        in: 'query',
        description: 'Number of a mapping of this source to read with, in force or not yet.',
        schema: { type: 'integer', minimum: 1 },
      },
    ],
    body: { content, maxBytes: MAX_BYTES },
    responses: {
      200: jsonResponse('What was understood, and what would be said of it.', {
        type: 'object',
        required: ['kind', 'faults', 'sets'],
        properties: {
          kind: { type: 'string' },
          acknowledgement: {
            description: 'HL7 v2: what the sender would be answered.',
            type: ['string', 'null'],
          },
          faults: { type: 'array', items: { type: 'object' } },
          sets: {
            description:
              'One a patient: who, what was understood of each reading, verdicts and findings, and the rows that brought none.',
            type: 'array',
            items: { type: 'object' },
          },
        },
      }),
      400: problemResponse('The mapping is no number.'),
      404: noSuchResponse('source'),
    },
    audit: { action: 'message-tried', entity: 'sources/:id' },
    async handler(req: Request, res: Response) {
      const id = idIn(req, 'source');
      const message = { bytes: bodyOf(req), mediaType: mediaTypeOf(req), mapping: mappingIn(req) };
      const told = await services.tryMessage(id, message);
      if (told === 'no-source') throw noSuch('source');
      if (told === 'no-mapping') throw noSuch('mapping');
      sendJson(res, 200, told);
    },
  };
}
