import type { AssociationDelivery, AssociationNews } from './delivery.js';
import type { ErrorCondition, Hl7Fault, Hl7Location } from './fault.js';
import {
  groupSegments,
  type ObxRow,
  type OrderGroup,
  type PatientGroup,
} from './group-segments.js';
import { codesOf } from './coded-field.js';
import type { MessageScope } from './message-scope.js';
import { equipmentIn, equipmentOf, isEquipment, operatorIn } from './participations.js';
import type { Hl7Message } from './parse-message.js';
import { writeMoment } from './read-moment.js';
import { isUnknown, readLocation, readPatient } from './read-patient.js';
import type { Hl7Segment } from './segment.js';

/** OBR-4 of an association: MDC_OBS_ASSOCIATION_PATIENT_DEVICE (IHE Point-of-Care Identity Management). */
const ASSOCIATION_ORDER = '69136';

const EVENTS: readonly { code: string; name: string; kind: AssociationNews['kind'] }[] = [
  { code: '198332', name: 'MDC_EVT_ASSOCIATION_PATIENT_DEVICE', kind: 'associate' },
  { code: '198334', name: 'MDC_EVT_DISASSOCIATION_PATIENT_DEVICE', kind: 'disassociate' },
];

/** MDC_ATTR_EVT_COND: OBX-5 tells the event. */
const EVENT_ROW = '68487';

/** Whether an OBR heads associations of devices and patients. */
export function isAssociationOrder(obr: Hl7Segment): boolean {
  return codesOf(obr.field(4).repetition(1)).some(({ code }) => code === ASSOCIATION_ORDER);
}

/**
 * Reads whose devices are and cease to be. One that does not tell device, patient and time for certain is
 * refused with a fault: a guess would give one person's readings to another.
 */
export function readAssociations(
  message: Hl7Message,
  scope: MessageScope,
): Omit<AssociationDelivery, 'test'> {
  const { groups, faults } = groupSegments(message.segments);
  const read = groups.flatMap((group) =>
    group.orders.flatMap((order) =>
      order.rows.flatMap((row) => readEvent(row, order, group, scope)),
    ),
  );
  const associations = read.filter((one): one is AssociationNews => !('severity' in one));
  const refused = read.filter((one) => 'severity' in one);
  const none =
    read.length === 0
      ? [fault('101', null, 'the message has no row that tells of an association')]
      : [];
  return { kind: 'associations', associations, faults: [...faults, ...refused, ...none] };
}

function readEvent(
  row: ObxRow,
  order: OrderGroup,
  group: PatientGroup,
  scope: MessageScope,
): readonly (AssociationNews | Hl7Fault)[] {
  const { obx } = row;
  const codes = codesOf(obx.field(3).repetition(1));
  if (!codes.some(({ code }) => code === EVENT_ROW)) {
    return [fault('103', obx.at(3), 'beside associations other rows are not read')];
  }
  const kind = eventOf(obx);
  if (kind === null) return [fault('103', obx.at(5), 'the event is neither 198332 nor 198334')];
  const validated = validityOf(obx);
  if (validated === null) return [fault('103', obx.at(11), 'the status is neither F, R, P nor S')];
  const patient = readPatient(group, scope.identifiers, scope.broken);
  const isNobody = patient === null || (group.pid !== null && isUnknown(group.pid));
  if (kind === 'associate' && isNobody) {
    return [fault('101', group.pid?.at(3) ?? null, 'an association must name a patient in PID-3')];
  }
  const time = timeOf(kind, row, order, scope);
  if (time === null) return [fault('101', obx.at(), 'no moment can be told for the association')];
  const devices = devicesOf(row, order, scope);
  if (devices.length === 0)
    return [fault('101', obx.at(), 'no PRT with role EQUIP names a device')];
  const operator = [row.participations, order.participations]
    .map((participations) => operatorIn(participations, scope.identifiers).identifier)
    .find((identifier) => identifier !== null);
  const location = group.pv1 === null ? undefined : readLocation(group.pv1.field(3).repetition(1));
  return devices.map((device) => ({
    kind,
    at: `OBX ${obx.occurrence}`,
    device,
    patient,
    time,
    validated,
    ...(operator !== undefined && { recorder: { identifier: operator } }),
    ...(location !== undefined && { location }),
  }));
}

/** Number and name have to agree, and both triplets. */
function eventOf(obx: Hl7Segment): AssociationNews['kind'] | null {
  const codes = codesOf(obx.field(5).repetition(1));
  const kinds = codes.map(
    ({ code, name }) =>
      EVENTS.find((event) => event.code === code && (name === undefined || name === event.name))
        ?.kind,
  );
  const [first] = kinds;
  return first !== undefined && kinds.every((kind) => kind === undefined || kind === first)
    ? first
    : null;
}

function validityOf(obx: Hl7Segment): boolean | null {
  const status = obx.text(11).trim();
  if (status === 'F') return true;
  return ['R', 'P', 'S'].includes(status) ? false : null;
}

/** PRT-11 begins and PRT-12 ends the part that a device takes; else OBR-7 and OBR-8. */
function timeOf(
  kind: AssociationNews['kind'],
  row: ObxRow,
  { obr, participations }: OrderGroup,
  { moments }: MessageScope,
): string | null {
  const prts = [...row.participations, ...participations].filter(isEquipment);
  const [own, fallback] = kind === 'associate' ? [11, 7] : [12, 8];
  const texts = [
    ...prts.map((prt) => prt.text(own)),
    row.obx.text(14),
    obr?.text(fallback) ?? '',
    obr?.text(7) ?? '',
  ];
  const told = texts.find((text) => text.trim() !== '');
  const moment = told === undefined ? null : moments.moment(told);
  return moment === null ? null : writeMoment(moment);
}

function devicesOf(row: ObxRow, order: OrderGroup, { identifiers }: MessageScope) {
  const beside = equipmentIn(row.participations, identifiers);
  if (beside.length > 0) return beside;
  const ofOrder = equipmentIn(order.participations, identifiers);
  return ofOrder.length > 0 ? ofOrder : equipmentOf(row.obx, identifiers).slice(0, 1);
}

function fault(code: ErrorCondition, location: Hl7Location | null, text: string): Hl7Fault {
  return { location, code, severity: 'E', text };
}
