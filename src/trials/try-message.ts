/** One message of a source, told as it would be understood and judged; nothing of it is kept. */
import { checkSet } from '../contract/compile.js';
import { acknowledge } from '../intake/hl7v2/acknowledge.js';
import { checkHeader } from '../intake/hl7v2/check-header.js';
import type { Hl7Fault } from '../intake/hl7v2/fault.js';
import { parseMessage } from '../intake/hl7v2/parse-message.js';
import { readHl7 } from '../intake/hl7v2/read-hl7.js';
import { readJson } from '../intake/set-json/read-json.js';
import { normaliseSet } from '../normalise/normalise-set.js';
import { tryFhir } from './try-fhir.js';
import { trySet, trySets } from './try-sets.js';
import type { TrialServices, TriedSource, Understanding } from './try-sets.js';
import type { Fault } from '../vitals/shapes.js';

type Reader = (
  services: TrialServices,
  source: TriedSource,
  bytes: Buffer,
) => Promise<Understanding>;

/** By media type, without parameters. */
const READERS: Readonly<Record<string, Reader>> = {
  'application/hl7-v2': tryHl7,
  'application/json': tryJson,
  'application/fhir+json': tryFhir,
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

async function tryJson(
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
    sets: [await trySet(services, source, normaliseSet(checked.set))],
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
  const told = new Map<string, Understanding>();
  for (const { location, code, severity, text } of faults) {
    // Header and segments may find the same one.
    const fault = { at: location, code, severity, message: text };
    told.set(JSON.stringify(fault), fault);
  }
  return [...told.values()];
}
