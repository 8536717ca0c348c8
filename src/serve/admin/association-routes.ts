import type { Request, Response } from 'express';
import { z } from 'zod';
import { associate, endAssociation } from '../../store/associations.js';
import type { AssociationOutcome, EndOutcome } from '../../store/associations.js';
import { findDevice } from '../../store/find-devices.js';
import { listAssociations } from '../../store/find-associations.js';
import { actorOf } from '../rules/services.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { isoTime, idIn, idParameter, noSuch, noSuchResponse, refuse } from './answers.js';
import { ASSOCIATION_SCHEMA, renderAssociation } from './association-lists.js';
import { businessIdentifier, date, line, moment, sentAs } from './forms.js';
import type { RegistryServices } from './services.js';

/** Clocks differ; what is further ahead was not meant. */
const AHEAD_MS = 5 * 60_000;

const Patient = z
  .strictObject({
    identifier: businessIdentifier,
    birthDate: date.optional(),
    familyName: line(200).optional(),
  })
  .refine(
    ({ birthDate, familyName }) => birthDate !== undefined || familyName !== undefined,
    'needs a second identifier: "birthDate" or "familyName"',
  );
const AssociationBody = z.strictObject({ patient: Patient, from: moment.optional() });
const EndBody = z.strictObject({ at: moment.optional() });

const BAD_BODY = problemResponse('Every fault of the body; nothing changed.');
const ANSWER = 'The association as it stands.';

/** The id of the association; throws what it was refused for. What the register holds is not told. */
function associated(outcome: AssociationOutcome): string {
  switch (outcome.outcome) {
    case 'associated':
    case 'unchanged':
      return outcome.association.associationId;
    case 'taken': {
      const { associationId, fromMs, toMs } = outcome.association;
      const until = toMs === null ? '' : ` to ${String(isoTime(toMs))}`;
      throw refuse(
        409,
        `The device was another patient’s from ${String(isoTime(fromMs))}${until}: end the association ${associationId} where it ended in truth, or name a later time.`,
      );
    }
    case 'device-disabled':
      throw refuse(409, 'The device is disabled.');
    case 'patient-unknown':
      throw refuse(422, 'No patient is registered under this identifier.');
    case 'second-identifier-missing':
      throw refuse(
        422,
        'The register has nothing that the second identifier could be compared with: name the other one, or have the register completed.',
      );
    case 'second-identifier-differs':
      throw refuse(
        422,
        'The second identifier is not that of the registered patient: compare the wristband with what was sent.',
      );
  }
}

function ended(outcome: EndOutcome): string {
  switch (outcome.outcome) {
    case 'ended':
    case 'unchanged':
      return outcome.association.associationId;
    case 'ended-before':
      throw refuse(
        409,
        `It ended at ${String(isoTime(outcome.association.toMs))}; an end only moves back. Associate the device again from when it is the patient’s.`,
      );
    case 'before-start':
      throw refuse(
        409,
        `It began at ${String(isoTime(outcome.association.fromMs))}. An end at that very time takes it back: it never held.`,
      );
    case 'unknown':
      throw noSuch('association');
  }
}

/** A time of the body, or now. */
function timeOf(written: string | undefined, pointer: string, nowMs: number): number {
  const timeMs = written === undefined ? nowMs : Date.parse(written);
  if (timeMs <= nowMs + AHEAD_MS) return timeMs;
  throw refuse(400, 'The body is at fault.', [{ pointer, message: 'is still to come' }]);
}

async function sendOne(
  { pool }: RegistryServices,
  res: Response,
  status: number,
  associationId: string,
): Promise<void> {
  const [association] = await listAssociations(pool, { associationId }, null, 1);
  if (association === undefined) throw noSuch('association');
  sendJson(res, status, renderAssociation(association));
}

function addRoute(services: RegistryServices): Route {
  const { pool, names, compareIdentity, clock } = services;
  return {
    method: 'post',
    path: '/admin/devices/:id/associations',
    scopes: ['admin'],
    summary: 'Say whose a device is from a time on',
    description:
      'A device is one patient’s at a time: what it was before ends at that time. The second identifier must agree with the register. Without `from`: from now on.',
    parameters: [idParameter('device')],
    body: {
      content: {
        'application/json': {
          schema: sentAs(AssociationBody),
          example: {
            patient: {
              identifier: { system: 'urn:example:mrn', value: 'LF-20417' },
              birthDate: '1958-11-02',
            },
            from: '2026-03-01T08:00:00+01:00',
          },
        },
      },
    },
    responses: {
      200: jsonResponse('It was that patient’s already; nothing changed.', ASSOCIATION_SCHEMA),
      201: jsonResponse(ANSWER, ASSOCIATION_SCHEMA),
      400: BAD_BODY,
      404: noSuchResponse('device'),
      409: problemResponse('It was another patient’s at that time, or the device is disabled.'),
      422: problemResponse('The patient is not known, or the second identifier does not agree.'),
    },
    audit: { action: 'device-associate', entity: 'devices/:id/associations', by: 'act' },
    async handler(req, res, caller) {
      const id = idIn(req, 'device');
      const { patient, from } = readJson(req, AssociationBody);
      const nowMs = clock();
      const fromMs = timeOf(from, '/from', nowMs);
      const device = await findDevice(pool, id);
      if (device === null) throw noSuch('device');
      const { birthDate, familyName } = patient;
      const outcome = await associate(pool, names, compareIdentity, {
        device: device.identifier,
        patient: {
          identifier: patient.identifier,
          ...(birthDate === undefined ? {} : { birthDate }),
          ...(familyName === undefined ? {} : { familyName }),
        },
        fromMs,
        by: { origin: 'admin', actor: await actorOf(names, caller) },
        nowMs,
      });
      const status = outcome.outcome === 'associated' ? 201 : 200;
      await sendOne(services, res, status, associated(outcome));
    },
  };
}

function endRoute(services: RegistryServices): Route {
  const { pool, names, clock } = services;
  return {
    method: 'post',
    path: '/admin/devices/:id/associations/:association/end',
    scopes: ['admin'],
    summary: 'End an association, or move its end back',
    description:
      'Without `at`: now. An end at the time of the start takes the association back, as where the wrong patient was named.',
    parameters: [idParameter('device'), idParameter('association', 'association')],
    body: {
      content: {
        'application/json': {
          schema: sentAs(EndBody),
          example: { at: '2026-03-01T18:30:00+01:00' },
        },
      },
    },
    responses: {
      200: jsonResponse(ANSWER, ASSOCIATION_SCHEMA),
      400: BAD_BODY,
      404: noSuchResponse('association'),
      409: problemResponse('It ended earlier than that, or begins later.'),
    },
    audit: {
      action: 'device-disassociate',
      entity: 'devices/:id/associations/:association',
      by: 'act',
    },
    async handler(req: Request, res, caller) {
      const deviceId = idIn(req, 'device');
      const associationId = idIn(req, 'association', 'association');
      const { at } = readJson(req, EndBody);
      const atMs = timeOf(at, '/at', clock());
      const actor = await actorOf(names, caller);
      const outcome = await endAssociation(pool, { deviceId, associationId, atMs, actor });
      await sendOne(services, res, 200, ended(outcome));
    },
  };
}

/** Changing whose a device is. */
export function associationRoutes(services: RegistryServices): Route[] {
  return [addRoute(services), endRoute(services)];
}
