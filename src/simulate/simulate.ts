/** One run put together: people, devices, connections, faults, and what it came to. */
import { StartError } from '../errors.js';
import type { Moment } from '../vitals/shapes.js';
import { bedsOf, makeDevices } from './device.js';
import { inventPeople, inventPerson } from './invent-people.js';
import { FateJudge } from './judge-fates.js';
import { openSpeakers } from './open-speakers.js';
import type { SimulateOptions } from './options.js';
import type { Person } from './person.js';
import { readPeople } from './read-people.js';
import { registerPeople } from './register-people.js';
import { showLines } from './print-lines.js';
import { runWard } from './run-ward.js';
import { Tally } from './tally.js';
import type { TallyReport } from './tally.js';
import { Clients } from './wire/clients.js';
import type { Credentials } from './wire/clients.js';
import type { MllpEndpoint } from './wire/mllp-link.js';

export interface Surroundings {
  /** Base of the gateway, without a slash at its end. */
  readonly gateway: string;
  readonly mllp: MllpEndpoint;
  /** Of clients of the gateway; none: nothing but HL7 v2 can be spoken. */
  readonly credentials: readonly Credentials[];
  readonly write: (line: string) => void;
  /** Given: nothing more is measured. */
  readonly stopping: AbortSignal;
  /** Given: nobody waits for an answer any more. */
  readonly ending: AbortSignal;
}

/** @throws StartError when the run cannot begin. */
export async function simulate(
  options: SimulateOptions,
  surroundings: Surroundings,
): Promise<TallyReport> {
  const { gateway, mllp, credentials, write, stopping } = surroundings;
  const clients = credentials.length === 0 ? null : await Clients.signIn(gateway, credentials);
  const people = await settlePeople(options, gateway, clients);
  const devices = makeDevices(options, people);
  const tally = new Tally();
  const speakers = await openSpeakers(devices, { gateway, mllp, clients, names: options }, tally);
  const judge = new FateJudge(gateway, clients, tally);
  const lines = showLines(options.rate, tally, write);
  const startMs = performance.now();
  const stopWaiting = waitAtMost(options, surroundings, speakers.close);
  await runWard({
    ...{ devices, tally, stopping, now: localMoment },
    ...{ rate: options.rate, seconds: options.seconds, seed: options.seed },
    ...{ faultShare: options.faults, faultKinds: options['fault-kinds'] },
    speakerOf: speakers.speakerOf,
    strangerTo: (person) => strangerTo(person, people),
    onCarried(carried) {
      lines.carried(carried);
      judge.take(carried);
    },
  });
  const seconds = (performance.now() - startMs) / 1000;
  stopWaiting();
  lines.stop();
  speakers.close();
  await judge.settle();
  return tally.report(seconds);
}

/** Ends the waiting some time after the last measurement. What it returns takes that back. */
function waitAtMost(
  { seconds, wait }: SimulateOptions,
  { stopping, ending }: Surroundings,
  close: () => void,
): () => void {
  let timer: NodeJS.Timeout | undefined;
  const closeAfter = (forMs: number) => (): void => {
    clearTimeout(timer);
    timer = setTimeout(close, forMs);
  };
  if (seconds > 0) closeAfter((seconds + wait) * 1000)();
  stopping.addEventListener('abort', closeAfter(wait * 1000));
  ending.addEventListener('abort', close);
  return () => {
    clearTimeout(timer);
  };
}

async function settlePeople(
  options: SimulateOptions,
  gateway: string,
  clients: Clients | null,
): Promise<readonly Person[]> {
  const nowMs = Date.now();
  if (options.patients !== undefined) return readPeople(options.patients, nowMs);
  if (clients === null) {
    throw new StartError(
      'Without credentials of a client nobody can be looked up or registered: name patients of the gateway with --patients, or clients with --credentials.',
    );
  }
  return registerPeople(gateway, clients, inventPeople(bedsOf(options), nowMs));
}

function strangerTo(person: Person, people: readonly Person[]): Person {
  const isOther = (one: Person): boolean =>
    one.birthDate !== person.birthDate && one.birthDate !== undefined;
  const after = people.indexOf(person) + 1;
  const invented = [0, 1].map((number) => inventPerson(number, Date.now()));
  return [...people.slice(after), ...invented].find(isOther) ?? person;
}

function localMoment(): Moment {
  const date = new Date();
  return { epochMs: date.getTime(), offsetMinutes: -date.getTimezoneOffset() };
}
