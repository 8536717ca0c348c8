import { findClockSteps, readClockPairs } from './clock-pairs.js';
import type { Amendment, ClockPair, ObservationDelivery } from './delivery.js';
import { groupSegments, type OrderGroup, type PatientGroup } from './group-segments.js';
import { joinPressures, type JoinedReading } from './join-pressures.js';
import { makeSets, recorderOf, type GroupSubject } from './make-sets.js';
import type { MessageScope } from './message-scope.js';
import { scopeOfOrder, type OrderScope } from './order-scope.js';
import type { Hl7Message } from './parse-message.js';
import { readLocation, readPatient } from './read-patient.js';
import { readRow } from './read-row.js';
import { readStatusRow, StatusMarks } from './read-status-rows.js';
import type { RowReading, UnreadOutcome } from './row-reading.js';
import { toAmendment } from './to-reading.js';

/** Reads an ORU^R01 of device readings, each patient group by itself. */
export function readObservations(
  message: Hl7Message,
  scope: MessageScope,
): Omit<ObservationDelivery, 'test'> {
  const { groups, faults } = groupSegments(message.segments);
  const read = groups.map((group) => readGroup(group, scope));
  return {
    kind: 'observations',
    sets: read.flatMap(({ sets }) => sets),
    amendments: read.flatMap(({ amendments }) => amendments),
    clockPairs: read.flatMap(({ clockPairs }) => clockPairs),
    faults,
  };
}

type GroupRead = Pick<ObservationDelivery, 'sets' | 'amendments' | 'clockPairs'>;

function readGroup(group: PatientGroup, scope: MessageScope): GroupRead {
  const subject = subjectOf(group, scope);
  const orders = group.orders.map((order) => readOrder(order, scope));
  const standing: JoinedReading[] = [];
  const amendments: Amendment[] = [];
  for (const reading of orders.flatMap(({ joined }) => joined)) {
    const amendment = toAmendment(reading);
    if (amendment === null) standing.push(reading);
    else amendments.push({ ...aboutOf(subject, reading), ...amendment });
  }
  return {
    sets: makeSets(
      subject,
      standing,
      orders.flatMap(({ unread }) => unread),
    ),
    amendments,
    clockPairs: scope.test ? [] : orders.flatMap(({ clockPairs }) => clockPairs),
  };
}

function aboutOf(
  { patient, encounter }: GroupSubject,
  { rows: [{ recorder }] }: JoinedReading,
): Pick<Amendment, 'patient' | 'encounter' | 'recorder'> {
  return {
    patient,
    ...(encounter !== undefined && { encounter }),
    ...recorderOf(recorder),
  };
}

function subjectOf(group: PatientGroup, scope: MessageScope): GroupSubject {
  const { pv1 } = group;
  const { identifiers, broken } = scope;
  const visit = pv1 === null ? null : identifiers.visit(pv1.field(19).repetition(1));
  const location = pv1 === null ? undefined : readLocation(pv1.field(3).repetition(1));
  return {
    patient: readPatient(group, identifiers, broken),
    ...(visit !== null && !broken && { encounter: { identifier: visit } }),
    ...(location !== undefined && !broken && { location }),
  };
}

interface OrderRead {
  readonly joined: readonly JoinedReading[];
  readonly unread: readonly UnreadOutcome[];
  readonly clockPairs: readonly ClockPair[];
}

function readOrder(order: OrderGroup, message: MessageScope): OrderRead {
  const scope = scopeOfOrder(order, message);
  const marks = marksOf(scope);
  const clockPairs = readClockPairs(scope);
  const readings: RowReading[] = [];
  const unread: UnreadOutcome[] = [];
  for (const row of scope.rows) {
    const outcome = readRow(row, scope, marks);
    if (outcome.kind === 'reading') readings.push(outcome.reading);
    else if (outcome.kind === 'unread') unread.push(outcome);
  }
  const isStepped = findClockSteps(clockPairs);
  const joined = joinPressures(readings).map((reading): JoinedReading =>
    reading.rows[0].devices.some(isStepped)
      ? { ...reading, doubts: [...reading.doubts, 'clock-stepped'] }
      : reading,
  );
  return { joined, unread, clockPairs };
}

function marksOf(scope: OrderScope): StatusMarks {
  const marks = new StatusMarks();
  for (const row of scope.rows) {
    if (row.found.kind !== 'context') continue;
    const mark = readStatusRow(row.found.context, row.obx.field(5));
    if (mark !== null) marks.add(row, mark);
  }
  return marks;
}
