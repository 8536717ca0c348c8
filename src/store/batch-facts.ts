/** Everything that must be known to judge the sets of a batch: read under the locks of their patients. */
import type { PoolClient } from 'pg';
import type { DeviceFacts, Identifier, NormalisedSet } from '../vitals/shapes.js';
import type { CanonicalUnit, Vital } from '../vitals/words.js';
import { readDeviceFacts } from './device-facts.js';
import type { Facts, JudgeableItem } from './draft-sets.js';
import type { EditionAt } from './edition-shelf.js';
import { readKnownEncounters } from './encounter-claims.js';
import type { NamedVisit } from './encounter-claims.js';
import { conditionsOf, readIdentified } from './identified-readings.js';
import { readEarlierReadings, readNamedRegister, windowOf } from './judging-facts.js';
import type { NamedRegister, TimeWindow } from './judging-facts.js';
import type { Names } from './names.js';
import { historyWindowOf, readHistory } from './patient-history.js';
import type { HistoryWindow } from './patient-history.js';
import { readSent } from './read-sent.js';

/** @throws StaleNames when patients were merged since the batch learnt whose their identifiers are */
export async function readFacts(
  client: PoolClient,
  names: Names,
  unitOf: (vital: Vital) => CanonicalUnit | null,
  editionAt: EditionAt,
  sets: readonly JudgeableItem[],
): Promise<Facts> {
  // A message may bring rows and no reading: it has no time to look around in.
  const items = sets.filter(({ content }) => content.set.readings.length > 0);
  const windows = items.map(({ envelope, content: { set } }) =>
    windowOf(
      names.patient(set.patient.identifier).patientKey,
      set.readings,
      editionAt(envelope.receivedAtMs).limits.comparedMs,
    ),
  );
  const { register } = await readCurrentNames(client, names, sets);
  const once = new Set<number>();
  const shared = new Set<number>();
  for (const { patientKey } of windows) (once.has(patientKey) ? shared : once).add(patientKey);
  const earlier = await readEarlierReadings(client, oneAPatient(windows), unitOf);
  const history = await readHistory(client, historyWindows(names, editionAt, items));
  // What was kept for the same second is near in time: without near readings there is none.
  const sent = await readSent(
    client,
    oneAPatient(sentWindows(names, items)).filter(({ patientKey }) => earlier.has(patientKey)),
  );
  const encounters = await readKnownEncounters(
    client,
    names,
    items.flatMap(({ content: { set } }) => visitOf(names, set)),
  );
  const devices = await readDevicesOf(client, names, items);
  const identified = await readIdentified(
    client,
    items.flatMap(({ content }) => conditionsOf(content.set.readings)),
  );
  return { editionAt, register, earlier, history, sent, encounters, identified, devices, shared };
}

/** One question for all sets that name a device. */
async function readDevicesOf(
  client: PoolClient,
  names: Names,
  items: readonly JudgeableItem[],
): Promise<Map<JudgeableItem, DeviceFacts[]>> {
  const asking = items.filter(({ content }) =>
    content.set.readings.some(({ device }) => device !== null),
  );
  if (asking.length === 0) return new Map();
  const answers = await readDeviceFacts(
    client,
    names,
    asking.map(({ envelope, content: { set } }) => ({
      devices: set.readings.flatMap(({ device }) => (device === null ? [] : [device])),
      ...windowOf(names.patient(set.patient.identifier).patientKey, set.readings, 0),
      receivedAtMs: envelope.receivedAtMs,
    })),
  );
  return new Map(asking.map((item, place) => [item, answers[place] ?? []]));
}

/** Remembered of an identifier is whose it was before a merge. */
export class StaleNames extends Error {
  readonly identifiers: readonly Identifier[];

  constructor(identifiers: readonly Identifier[]) {
    super('patients were merged since their identifiers were learnt');
    this.identifiers = identifiers;
  }
}

/** @throws StaleNames when an identifier has become another patient's; the locks taken are then the wrong ones. */
async function readCurrentNames(
  client: PoolClient,
  names: Names,
  sets: readonly JudgeableItem[],
): Promise<NamedRegister> {
  const identifiers = sets.map(({ content }) => content.set.patient.identifier);
  const named = identifiers.map((identifier) => names.patient(identifier));
  const found = await readNamedRegister(client, [
    ...new Set(named.map(({ identifierKey }) => identifierKey)),
  ]);
  const stale = identifiers.filter((_identifier, place) => {
    const remembered = named[place];
    return found.patientKeyOf.get(remembered?.identifierKey ?? 0) !== remembered?.patientKey;
  });
  if (stale.length > 0) throw new StaleNames(stale);
  return found;
}

function visitOf(names: Names, { encounter, patient }: NormalisedSet): NamedVisit[] {
  if (encounter === null) return [];
  return [{ encounter, patientKey: names.patient(patient.identifier).patientKey }];
}

function sentWindows(names: Names, items: readonly JudgeableItem[]): TimeWindow[] {
  return items.map(({ content: { set } }) =>
    windowOf(names.patient(set.patient.identifier).patientKey, set.readings, 0),
  );
}

/** One a patient, of all signs that its sets bring. */
function historyWindows(
  names: Names,
  editionAt: EditionAt,
  items: readonly JudgeableItem[],
): HistoryWindow[] {
  const merged = new Map<number, HistoryWindow>();
  for (const { envelope, content } of items) {
    const { patient, readings } = content.set;
    const { historyMs } = editionAt(envelope.receivedAtMs).limits;
    const window = historyWindowOf(
      names.patient(patient.identifier).patientKey,
      readings,
      historyMs,
    );
    const known = merged.get(window.patientKey) ?? window;
    merged.set(window.patientKey, {
      patientKey: window.patientKey,
      vitals: new Set([...known.vitals, ...window.vitals]),
      fromMs: Math.min(known.fromMs, window.fromMs),
      toMs: Math.max(known.toMs, window.toMs),
    });
  }
  return [...merged.values()];
}

/** One stretch a patient, so that no earlier reading comes twice. */
function oneAPatient(windows: readonly TimeWindow[]): TimeWindow[] {
  const merged = new Map<number, TimeWindow>();
  for (const window of windows) {
    const known = merged.get(window.patientKey) ?? window;
    merged.set(window.patientKey, {
      patientKey: window.patientKey,
      fromMs: Math.min(known.fromMs, window.fromMs),
      toMs: Math.max(known.toMs, window.toMs),
    });
  }
  return [...merged.values()];
}
