/** Lets the devices of a ward measure and talk, each in its turn, at a steady rate. */
import { randomUUID } from 'node:crypto';
import { noiseOf } from '../demo/noise.js';
import type { Moment } from '../vitals/shapes.js';
import type { SimulatedDevice } from './device.js';
import { drawFault, spoil } from './faults.js';
import type { Fault } from './faults.js';
import { takeMeasurement } from './measurement.js';
import type { Measurement } from './measurement.js';
import type { Person } from './person.js';
import type { Answer, Message, Speaker } from './speak/speaker.js';
import type { Tally } from './tally.js';
import type { Cut } from './wire/mllp-link.js';
import { pause } from './wire/patience.js';

export interface RunPlan {
  readonly devices: readonly SimulatedDevice[];
  readonly speakerOf: (device: SimulatedDevice) => Speaker;
  /** Somebody else, with another birth date. */
  readonly strangerTo: (person: Person) => Person;
  /** Messages a second, of all devices together. */
  readonly rate: number;
  /** 0: until told to stop. */
  readonly seconds: number;
  readonly faultShare: number;
  readonly faultKinds: readonly Fault[];
  readonly seed: number;
  readonly tally: Tally;
  readonly onCarried: (carried: Carried) => void;
  /** The time, in the zone of the devices. */
  readonly now: () => Moment;
  /** Given: nothing more is measured. */
  readonly stopping: AbortSignal;
}

/** A message that has been brought to the gateway. */
export interface Carried {
  readonly measurement: Measurement;
  readonly fault: Fault | null;
  readonly answer: Answer;
  readonly second: Answer | null;
  /** From the moment at which it was due. */
  readonly latencyMs: number;
}

/** A device with more than this waiting does not measure: a ward that is not heard does not fill the memory. */
const MAX_WAITING = 20;

interface Turn {
  waiting: number;
  round: number;
  tail: Promise<void>;
}

/** Resolves when all that was measured is answered, or given up by whoever closes the connections. */
export async function runWard(plan: RunPlan): Promise<void> {
  const { devices, rate, seconds, stopping } = plan;
  const turns = devices.map((): Turn => ({ waiting: 0, round: 0, tail: Promise.resolve() }));
  const total = seconds === 0 ? Infinity : Math.round(rate * seconds);
  const startMs = performance.now();
  for (let index = 0; index < total; index++) {
    const dueMs = startMs + (index * 1000) / rate;
    const aheadMs = dueMs - performance.now();
    if (aheadMs > 0) await pause(aheadMs, stopping);
    if (stopping.aborted) break;
    const place = index % devices.length;
    const [device, turn] = [devices[place], turns[place]];
    if (device !== undefined && turn !== undefined) takeTurn(plan, device, turn, index, dueMs);
  }
  await Promise.all(turns.map(({ tail }) => tail));
}

/** Measures now; what it measured is sent when what it measured before is answered. */
function takeTurn(
  plan: RunPlan,
  device: SimulatedDevice,
  turn: Turn,
  index: number,
  dueMs: number,
): void {
  if (turn.waiting >= MAX_WAITING) {
    plan.tally.skipped();
    return;
  }
  const prepared = prepare(plan, device, turn.round, index);
  turn.round += 1;
  turn.waiting += 1;
  turn.tail = turn.tail.then(async () => {
    await carry(plan, prepared, dueMs);
    turn.waiting -= 1;
  });
}

interface Prepared {
  readonly measurement: Measurement;
  readonly message: Message;
  readonly fault: Fault | null;
  readonly cut: Cut | undefined;
}

function prepare(plan: RunPlan, device: SimulatedDevice, round: number, index: number): Prepared {
  const noise = noiseOf(`${plan.seed} message ${index}`);
  const fault = drawFault(noise, plan.faultShare, plan.faultKinds);
  const taken = takeMeasurement(device, plan.now(), round, noise);
  const measurement = spoil(taken, fault, noise, plan.strangerTo(device.person));
  const cut = noise.between(0, 1) < 0.5 ? 'goes-on' : 'breaks';
  return {
    measurement,
    message: plan.speakerOf(device).write(measurement, randomUUID()),
    fault,
    cut: fault === 'cut-frame' ? cut : undefined,
  };
}

async function carry(plan: RunPlan, prepared: Prepared, dueMs: number): Promise<void> {
  const { measurement, message, fault, cut } = prepared;
  const answer = await deliver(plan, prepared, () => message.deliver(cut), dueMs);
  if (answer === null) return;
  const latencyMs = performance.now() - dueMs;
  const second =
    fault === 'duplicate'
      ? await deliver(plan, prepared, () => message.deliver(), performance.now())
      : null;
  plan.onCarried({ measurement, fault, answer, second, latencyMs });
}

/** The pause in a message that is cut on purpose says nothing of the gateway. */
async function deliver(
  { tally }: RunPlan,
  { measurement, cut }: Prepared,
  send: () => Promise<Answer | null>,
  dueMs: number,
): Promise<Answer | null> {
  const { speaks } = measurement.device;
  tally.of(speaks).messages += 1;
  const answer = await send();
  if (answer === null) tally.of(speaks).lost += 1;
  else {
    const latencyMs = performance.now() - dueMs;
    tally.answered(speaks, answer.code, cut === undefined ? latencyMs : null);
  }
  return answer;
}
