import type { Request, Response } from 'express';
import { z } from 'zod';
import { findBedsidePatients } from '../../store/find-bedside-patient.js';
import type { Identifier } from '../../vitals/shapes.js';
import { noteLook } from '../http/audit-requests.js';
import { HttpError } from '../http/http-error.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { renderBedsidePatient } from './render-patient.js';
import type { BedsideServices, BedsideSite } from './services.js';

/** No control characters and no halves of a surrogate pair, as in a set. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const PLAIN = /^[^\u0000-\u001f\u007f-\u009f\ud800-\udfff]*$/u;
const Text = z.string().trim().min(1).max(200).regex(PLAIN);
const FindBody = z.strictObject({ system: Text.optional(), value: Text });

const IDENTIFIER = { $ref: 'urn:vital-sign-gateway:schema:reading:1#/$defs/identifier' };
const PATIENT = {
  type: 'object',
  required: ['identifier', 'others', 'familyName', 'givenNames', 'birthDate', 'gender'],
  properties: {
    identifier: IDENTIFIER,
    others: { type: 'array', items: IDENTIFIER },
    familyName: { type: ['string', 'null'] },
    givenNames: { type: 'array', items: { type: 'string' } },
    birthDate: { type: ['string', 'null'], description: 'A FHIR date.' },
    gender: { type: ['string', 'null'] },
  },
};

/** What was typed or scanned, under the system that was named, else under each of the site's. */
function askedFor(
  { system, value }: z.output<typeof FindBody>,
  { identifierKinds }: BedsideSite,
): Identifier[] {
  if (system !== undefined) return [{ system, value }];
  return identifierKinds.map((kind) => ({ system: kind.system, value }));
}

/** Whole identifiers only, one patient or none: nobody is found by trying parts of one. */
export function findPatientRoute({ pool, site }: BedsideServices): Route {
  return {
    method: 'post',
    path: '/bedside/patients/find',
    scopes: ['bedside'],
    rateClass: 'look-up',
    summary: 'Look a patient up by a full identifier, to confirm who it is',
    description:
      'Without a `system` those of PATIENT_IDENTIFIERS are tried. Each look is on record, found or not.',
    body: {
      content: {
        'application/json': {
          schema: z.toJSONSchema(FindBody),
          example: { system: 'urn:example:mrn', value: 'LF-20417' },
        },
      },
    },
    audit: { action: 'patient-looked-up', entity: 'patients' },
    responses: {
      200: jsonResponse('The patient, as registered.', PATIENT),
      400: problemResponse('The body is at fault.'),
      404: problemResponse('Nobody is registered under this identifier.'),
      409: problemResponse('Several people have this number under different systems: name one.'),
    },
    async handler(req: Request, res: Response) {
      const found = await findBedsidePatients(pool, askedFor(readJson(req, FindBody), site));
      noteLook(res, { patientIds: found.map(({ patientId }) => patientId) });
      const [patient, ...others] = found;
      if (patient === undefined) {
        const detail = 'Nobody is registered under this identifier.';
        throw new HttpError({ status: 404, detail });
      }
      if (others.length > 0) {
        const detail = 'Several people have this number under different systems: name the system.';
        throw new HttpError({ status: 409, detail });
      }
      sendJson(res, 200, renderBedsidePatient(patient));
    },
  };
}
