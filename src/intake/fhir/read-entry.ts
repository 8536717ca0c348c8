/** One entry of a delivery by the type of its resource. */
import type { Observation } from 'fhir/r4.js';
import { assembleReadings, readIdentifiers, type Assembled } from './assemble-reading.js';
import type { ClockPair, EntryFate } from './delivery.js';
import { Faults } from './fhir-fault.js';
import { IDENTIFIER_RULE } from './identifiers.js';
import type { Unread } from './make-sets.js';
import { asReference, findDevice } from './read-device.js';
import { amendmentOf } from './amendment.js';
import { codeOf, readObservation, type ObservationRead } from './read-observation.js';
import { findPatient, patientOf } from './read-patient.js';
import { readStamp, type Stamp } from './read-stamp.js';
import { readStatusBits } from './read-status-bits.js';
import { readTime } from './read-time.js';
import { homeOf, type Home } from './references.js';
import { resolveReferences, type Resolving } from './resolve-reading.js';
import type { SentEntry } from './sent-entry.js';
import type { ToldStatus } from './told-status.js';
import { tellDevice } from './tell-device.js';

export interface EntryRead {
  readonly fate: EntryFate;
  readonly readings: readonly Assembled[];
  readonly unread: readonly Unread[];
  readonly status: ToldStatus | null;
  readonly clock: ClockPair | null;
}

/** Gives places to readings that stand beside the one that has the place of its entry. */
export type TakePlaces = (entry: SentEntry, count: number) => readonly [number, ...number[]];

function only(fate: EntryFate, more: Partial<EntryRead> = {}): EntryRead {
  return { fate, readings: [], unread: [], status: null, clock: null, ...more };
}

const NOT_KEPT = 'It is not kept: an Observation that refers to it carries its identifier.';

export function readEntry(entry: SentEntry, resolving: Resolving, take: TakePlaces): EntryRead {
  const faults = new Faults(entry.path);
  const read = readByType(entry, resolving, take, faults);
  const [first, ...more] = faults.list;
  return first === undefined ? read : only({ kind: 'refused', faults: [first, ...more] });
}

function readByType(
  entry: SentEntry,
  resolving: Resolving,
  take: TakePlaces,
  faults: Faults,
): EntryRead {
  switch (entry.resource.resourceType) {
    case 'Observation':
      return readObservationEntry(entry, resolving, take, faults);
    case 'Patient':
      return only(readPatientEntry(entry, resolving, faults));
    case 'Device':
    case 'DeviceMetric':
      return only(tellDevice(entry, resolving, faults));
    case 'Practitioner':
    case 'Encounter':
    case 'Location':
      return only({ kind: 'used', message: NOT_KEPT });
    default:
      faults.refuse('', 'not-supported', 'Resources of this type are not taken.');
      return only({ kind: 'used', message: NOT_KEPT });
  }
}

/** Never registers anybody: it is somebody registered, or a name that readings wait under. */
function readPatientEntry(
  { resource, criteria }: SentEntry,
  { register, around }: Resolving,
  faults: Faults,
): EntryFate {
  const found = patientOf(resource, criteria, around.profile.defaultAuthority);
  if (!('patient' in found)) {
    faults.refuse('identifier', 'required', `identifier must have ${IDENTIFIER_RULE}.`);
    return { kind: 'patient', known: null };
  }
  const [only, ...more] = register.patientsWith(criteria ?? [found.patient.identifier]);
  if (more.length > 0) {
    const text = 'The condition is met by several registered patients.';
    faults.refuse('', 'multiple-matches', text, 412);
  }
  return { kind: 'patient', known: only ?? null };
}

function readObservationEntry(
  entry: SentEntry,
  resolving: Resolving,
  take: TakePlaces,
  faults: Faults,
): EntryRead {
  const stamp = readStamp(entry.resource);
  if (stamp !== undefined) {
    const clock = clockOf(stamp, entry, resolving);
    return only({ kind: 'used', message: 'It tells how the clock of a device goes.' }, { clock });
  }
  const observation = entry.resource as unknown as Observation;
  const home = homeOf(entry);
  const read = readObservation(observation, resolving.around, faults);
  switch (read.kind) {
    case 'panel':
      refuseElsewhere(observation, home, resolving, faults, true);
      return only({
        kind: 'used',
        message: 'It heads Observations that are taken each by itself.',
      });
    case 'context':
      return readContext(observation, read.context, entry, resolving, faults);
    case 'unread':
      return unreadEntry(entry, observation, read.row, resolving);
    case 'reading': {
      refuseElsewhere(observation, home, resolving, faults, false);
      const identifiers = readIdentifiers(observation, faults);
      const resolved = resolveReferences(observation, home, resolving, faults);
      const places = take(entry, read.drafts.length);
      const readings = assembleReadings(entry, read, resolved, identifiers, places, faults);
      const [main] = readings;
      if (read.amends === undefined || main === undefined) {
        return only({ kind: 'reading', places }, { readings });
      }
      refuseAmending(entry, readings, faults);
      const row = { at: entry.at, index: entry.index, ...codeOf(observation) };
      return only({ kind: 'amendment', amendment: amendmentOf(read.amends, main, row) });
    }
  }
}

/** The subject of a coincident time stamp is the device whose clock it is. */
function clockOf(stamp: Stamp, entry: SentEntry, resolving: Resolving): ClockPair | null {
  if (stamp.kind !== 'offset') return null;
  const { references, register } = resolving;
  const subject = asReference(entry.resource.subject);
  const found = findDevice(subject, homeOf(entry), references, register);
  if (!('device' in found)) return null;
  const { shownMs, offsetMs } = stamp;
  return { device: found.device.identifier, deviceMs: shownMs, trueMs: shownMs - offsetMs };
}

/** What an amendment cannot say: nobody may guess which of several readings would be meant. */
function refuseAmending(entry: SentEntry, readings: readonly Assembled[], faults: Faults): void {
  if (entry.criteria !== null) {
    const text = 'What speaks of an Observation of before is not created on a condition.';
    faults.refuse('status', 'business-rule', text);
  }
  if (readings.length > 1 || readings.some(({ part }) => part !== undefined)) {
    const text = 'A correction or withdrawal is of one whole vital sign.';
    faults.refuse('component', 'not-supported', text);
  }
}

function unreadEntry(
  entry: SentEntry,
  observation: Observation,
  row: Extract<ObservationRead, { kind: 'unread' }>['row'],
  { references, register, around }: Resolving,
): EntryRead {
  const { defaultAuthority } = around.profile;
  const found =
    observation.subject === undefined
      ? null
      : findPatient(
          asReference(observation.subject),
          homeOf(entry),
          references,
          register,
          defaultAuthority,
        );
  const patient = found !== null && 'patient' in found ? found.patient : null;
  const { index, at } = entry;
  return only(
    { kind: 'unread', reason: row.reason, message: row.message },
    { unread: [{ patient, row: { ...row, at, index } }] },
  );
}

/** Status bits are held against the readings later; whatever else tells about a device is no reading. */
function readContext(
  observation: Observation,
  context: Extract<ObservationRead, { kind: 'context' }>['context'],
  entry: SentEntry,
  resolving: Resolving,
  faults: Faults,
): EntryRead {
  const bits = readStatusBits(context, observation);
  if (bits === undefined) {
    const message = 'It tells about a device or its signal, and is no reading.';
    const { coding: [first] = [] } = observation.code;
    const code = {
      code: first?.code ?? '',
      ...(first?.system !== undefined && { system: first.system }),
    };
    const row = { reason: 'not-a-vital-sign', message, code } as const;
    return unreadEntry(entry, observation, row, resolving);
  }
  const home = homeOf(entry);
  const { references, register } = resolving;
  const device =
    observation.device === undefined
      ? undefined
      : findDevice(asReference(observation.device), home, references, register);
  const sources = (observation.derivedFrom ?? []).flatMap((one) => {
    const located = references.locate(asReference(one), home);
    return located.in === 'delivery' ? [located.home.entry.index] : [];
  });
  const status: ToldStatus = {
    entry,
    bits,
    sources,
    device: device !== undefined && 'device' in device ? device.device.identifier : null,
    takenAt: readTime(observation, faults).takenAt ?? null,
  };
  return only({ kind: 'used', message: 'It doubts the readings that it is about.' }, { status });
}

/** Members and sources say nothing new where they were sent along; elsewhere nobody can look them up. */
function refuseElsewhere(
  observation: Observation,
  home: Home,
  { references }: Resolving,
  faults: Faults,
  isPanel: boolean,
): void {
  for (const name of ['hasMember', 'derivedFrom'] as const) {
    (observation[name] ?? []).forEach((one, i) => {
      const located = references.locate(asReference(one), home);
      if (located.in === 'delivery') return;
      const why = located.in === 'nowhere' ? located.why : 'leads to nothing that was sent along';
      faults.refuse(`${name}[${i}]`, 'not-found', `${name}[${i}] ${why}.`);
    });
  }
  if (isPanel && (observation.hasMember ?? []).length === 0) {
    faults.refuse('hasMember', 'required', 'hasMember must be there: a panel is its members.');
  }
}
