/** One message of a source, told as it would be understood and judged; nothing of it is kept. */
import { judgedAnswer } from './answers.js';
import { checkSet } from './contract/compile.js';
import { acknowledge } from './intake/hl7v2/acknowledge.js';
import { checkHeader } from './intake/hl7v2/check-header.js';
import type { Hl7Fault } from './intake/hl7v2/fault.js';
import { parseMessage } from './intake/hl7v2/parse-message.js';
import { readHl7 } from './intake/hl7v2/read-hl7.js';
import { readJson } from './intake/set-json/read-json.js';
import type { Stages } from './judging.js';
import { normaliseDelivery, normaliseSet } from './normalise/normalise-set.js';
import { settleIdentity } from './settle-identity.js';
import { readCheckFacts } from './store/check-facts.js';
import type { Names } from './store/names.js';
import type { Pool } from './store/pool.js';
import type { DeliveredSet, Fault, NormalisedSet, SourceFacts } from './vitals/shapes.js';
import type { SourceProfile } from './vitals/source-profile.js';
import { UNIDENTIFIED_SYSTEM } from './vitals/unidentified.js';

export interface TrialServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly clock: () => number;
}

/** Whose message it is taken for. */
export interface TriedSource extends SourceFacts {
  readonly name: string;
  /** With the mapping that is tried. */
  readonly profile: SourceProfile;
}

/** What was understood: JSON for the engineer who wires the source. */
export type Understanding = Readonly<Record<string, unknown>>;

type Reader = (
  services: TrialServices,
  source: TriedSource,
  bytes: Buffer,
) => Promise<Understanding>;

/** By media type, without parameters. */
const READERS: Readonly<Record<string, Reader>> = {
  'application/hl7-v2': tryHl7,
  'application/json': trySet,
};

export const TRIED_TYPES: readonly string[] = Object.keys(READERS);

/** @throws Error for a media type that is none of {@link TRIED_TYPES} */
export function tryMessage(
  services: TrialServices,
  source: TriedSource,
  bytes: Buffer,
  mediaType: string,
): Promise<Understanding> {
  const read = READERS[mediaType];
  if (read === undefined) throw new Error(`no reader for ${mediaType}`);
  return read(services, source, bytes);
}

async function trySet(
  services: TrialServices,
  source: TriedSource,
  bytes: Buffer,
): Promise<Understanding> {
  const read = readJson(bytes);
  const checked = read.ok ? checkSet(read.value) : read;
  if (!checked.ok) return { kind: 'set', faults: faultsOf(checked.faults), sets: [] };
  return {
    kind: 'set',
    faults: [],
    sets: [await judged(services, source, normaliseSet(checked.set))],
  };
}

function faultsOf(faults: readonly Fault[]): Understanding[] {
  return faults.map(({ pointer, message }) => ({ at: pointer, message }));
}

async function tryHl7(
  services: TrialServices,
  source: TriedSource,
  bytes: Buffer,
): Promise<Understanding> {
  const message = parseMessage(bytes);
  const check = checkHeader(message);
  const delivery = readHl7(message, source.profile);
  const told = {
    kind: 'hl7v2',
    header: 'header' in check ? headerOf(check.header) : null,
    characterSet: message.charset,
    acknowledgement: acknowledgementOf(services, check),
    faults: hl7Faults([
      ...('faults' in check ? check.faults : []),
      ...message.faults,
      ...delivery.faults,
    ]),
  };
  switch (delivery.kind) {
    case 'observations':
      return {
        ...told,
        brings: 'observations',
        clockPairs: delivery.clockPairs,
        amendments: delivery.amendments,
        sets: await trySets(services, source, delivery.sets),
      };
    case 'associations':
      return { ...told, brings: 'associations', associations: delivery.associations, sets: [] };
    case 'patient-event':
      return { ...told, brings: 'patient events', events: delivery.events, sets: [] };
  }
}

type HeaderChecked = ReturnType<typeof checkHeader>;

function headerOf(header: Extract<HeaderChecked, { kind: 'accepted' }>['header']): Understanding {
  const { application, facility, messageType, event, version, processingId, mode, profiles } =
    header;
  return { application, facility, messageType, event, version, processingId, mode, profiles };
}

/** As it would be sent once the message is kept; null: none is due. */
function acknowledgementOf({ clock }: TrialServices, check: HeaderChecked): string | null {
  if (check.kind !== 'accepted' && check.kind !== 'refused') return null;
  const tools = {
    now: { epochMs: clock(), offsetMinutes: 0 },
    makeId: () => 'TRIAL',
    application: 'VITALSIGNGATEWAY',
  };
  const outcomes =
    check.kind === 'refused'
      ? [check]
      : ([{ kind: 'kept' }, { kind: 'processed', result: 'accept' }] as const);
  for (const outcome of outcomes) {
    const answer = acknowledge(check.header, outcome, tools);
    if (answer !== null) return answer.bytes.toString('latin1');
  }
  return null;
}

function hl7Faults(faults: readonly Hl7Fault[]): Understanding[] {
  return [...new Set(faults)].map(({ location, code, severity, text }) => ({
    at: location,
    code,
    severity,
    message: text,
  }));
}

async function trySets(
  services: TrialServices,
  source: TriedSource,
  sets: readonly DeliveredSet[],
): Promise<Understanding[]> {
  const receivedAtMs = services.clock();
  const told: Understanding[] = [];
  for (const delivered of sets) {
    const parts = await settleIdentity(services.pool, source.name, delivered, receivedAtMs);
    for (const { set, patient, claim } of parts) {
      const receivedAt = { epochMs: receivedAtMs, offsetMinutes: 0 };
      const place = { setId: '', patient, claim, receivedAt };
      const answer = await judged(services, source, normaliseDelivery(set, place));
      told.push({ ...answer, unread: set.unread ?? [] });
    }
  }
  return told;
}

/** What was understood of a set, and what would be said of it. */
async function judged(
  { pool, names, stages, clock }: TrialServices,
  { attended, secondIdentifierRequired, synchronised }: TriedSource,
  set: NormalisedSet,
): Promise<Understanding> {
  const nowMs = clock();
  const { edition, ...facts } = await readCheckFacts(pool, names, set, stages, nowMs);
  const source = {
    ...{ attended, secondIdentifierRequired },
    ...(synchronised !== undefined && { synchronised }),
  };
  const verdicts = stages.judge({ set, receivedAtMs: nowMs, source, ...facts }, edition);
  const answer = judgedAnswer(set, null, verdicts, { idOf: () => null, discreet: true });
  const unnamed = set.patient.identifier.system === UNIDENTIFIED_SYSTEM;
  return {
    patient: unnamed ? null : { ...set.patient, registered: facts.patient !== null },
    patientBy: set.claim?.by ?? 'named',
    ...{ encounter: set.encounter, recorder: set.recorder, location: set.location },
    understood: set.readings.map((reading) => ({
      index: reading.index,
      at: reading.report?.at ?? null,
      ...{ vital: reading.vital, method: reading.method, site: reading.site, side: reading.side },
      device: reading.device,
      takenAt: new Date(reading.takenAt.epochMs).toISOString(),
      ...{ entered: reading.entered, doubts: reading.report?.doubts ?? [] },
      signal: reading.report?.signal ?? [],
    })),
    ...answer,
  };
}
