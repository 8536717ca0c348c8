/** HL7 v2 messages from frame to acknowledgement: nothing positive is said before it is on disk. */
import { randomBytes } from 'node:crypto';
import { applyAmendments, sortAmendments } from './apply-amendments.js';
import type { AmendingServices } from './apply-amendments.js';
import { applyAssociations } from './apply-associations.js';
import type { Deliverer, DeliveredBytes } from './deliveries.js';
import { acknowledge } from '../intake/hl7v2/acknowledge.js';
import type { Acknowledgement, Outcome } from '../intake/hl7v2/acknowledge.js';
import { checkHeader } from '../intake/hl7v2/check-header.js';
import type { Hl7Delivery, ObservationDelivery } from '../intake/hl7v2/delivery.js';
import type { Hl7Fault } from '../intake/hl7v2/fault.js';
import type { Hl7Header } from '../intake/hl7v2/header.js';
import type { HandlerReply } from '../intake/hl7v2/listener-options.js';
import { parseMessage } from '../intake/hl7v2/parse-message.js';
import type { Peer } from '../intake/hl7v2/peer.js';
import { readHl7 } from '../intake/hl7v2/read-hl7.js';
import { splitBatch } from '../intake/hl7v2/split-batch.js';
import { applyPatientEvent } from './patient-events.js';
import type { PatientEventServices } from './patient-events.js';
import { findSender } from './find-sender.js';
import type { FoundSender, SenderServices } from './find-sender.js';
import type { Pipeline } from '../pipeline.js';
import { problemBody } from '../problem.js';
import { noteDeviceClocks } from '../store/device-clocks.js';
import { isControlIdUsed, setAcknowledged } from '../store/message-control.js';
import type { CompareIdentity } from '../store/associations.js';
import type { MessageHeader } from '../store/message-records.js';
import type { DeliveredSet, IncomingReading } from '../vitals/shapes.js';

export interface MessageServices extends AmendingServices, PatientEventServices, SenderServices {
  readonly pipeline: Pick<Pipeline, 'receiveDelivery' | 'keepDelivery'>;
  readonly compareIdentity: CompareIdentity;
  readonly clock: () => number;
  /** Counts messages by what became of them. */
  readonly countMessage: (outcome: string) => void;
}

const CONTENT_TYPE = 'application/hl7-v2';
/** Names the gateway where the sender named no receiver (MSH-5). */
const APPLICATION = 'VITALSIGNGATEWAY';

/** One message on its way. */
interface Arrived extends FoundSender {
  readonly bytes: Buffer;
  readonly header: Hl7Header;
  readonly receivedAtMs: number;
}

export class Hl7Messages {
  readonly #services: MessageServices;

  constructor(services: MessageServices) {
    this.#services = services;
  }

  /**
   * Takes what one frame held: a message, or a batch of them, each acknowledged for itself.
   *
   * @throws Error when something cannot be kept; then nothing may be acknowledged
   */
  async handle(frame: Buffer, peer: Peer): Promise<HandlerReply> {
    const acknowledgements: Buffer[] = [];
    for (const piece of splitBatch(frame).messages) {
      const bytes = Buffer.from(piece);
      const reply = await this.#take(bytes, peer);
      acknowledgements.push(...reply.acknowledgements);
      if (reply.close === true) return { acknowledgements, close: true };
    }
    return { acknowledgements };
  }

  /** Keeps what came of a frame that was cut or has no end; nobody is answered. */
  async keepDiscarded({ bytes }: { readonly bytes: Buffer }, peer: Peer): Promise<void> {
    const check = checkHeader(parseMessage(bytes));
    const sender = await findSender(this.#services, peer, 'header' in check ? check.header : null);
    if (!sender.found) return;
    const detail = 'The frame was cut, or it has no end: nothing of it was read.';
    await this.#keepRefused(sender.deliverer, { bytes, contentType: CONTENT_TYPE }, detail);
  }

  async #take(bytes: Buffer, peer: Peer): Promise<HandlerReply> {
    const { countMessage, clock } = this.#services;
    const message = parseMessage(bytes);
    const check = checkHeader(message);
    if (check.kind === 'acknowledgement') return this.#counted('acknowledgement', []);
    const header = check.kind === 'noHeader' ? null : check.header;
    const sender = await findSender(this.#services, peer, header);
    if (!sender.found) {
      countMessage('unknown-peer');
      const faults = [refusal('The sender is not registered here, or not so.')];
      const answer = header && this.#answer(header, { kind: 'refused', as: 'reject', faults });
      return { acknowledgements: answer === null ? [] : [answer.bytes], close: true };
    }
    if (header === null) {
      const detail = 'The bytes do not begin with an MSH segment.';
      await this.#keepRefused(sender.deliverer, { bytes, contentType: CONTENT_TYPE }, detail);
      return this.#counted('no-header', []);
    }
    const arrived: Arrived = { ...sender, bytes, header, receivedAtMs: clock() };
    if (check.kind === 'refused') return this.#refuse(arrived, check);
    const delivery = readHl7(message, sender.profile);
    if (isUnreadable(delivery)) {
      return this.#refuse(arrived, { kind: 'refused', as: 'error', faults: delivery.faults });
    }
    return this.#carryOut(arrived, delivery);
  }

  #carryOut(arrived: Arrived, delivery: Hl7Delivery): Promise<HandlerReply> {
    switch (delivery.kind) {
      case 'observations':
        return this.#takeObservations(arrived, delivery);
      case 'associations':
        return this.#keepThen(arrived, delivery.test, (submissionId) =>
          applyAssociations(
            this.#services,
            delivery.associations,
            submissionId,
            arrived.receivedAtMs,
          ),
        );
      case 'patient-event':
        return this.#keepThen(arrived, delivery.test, async (submissionId) => {
          for (const event of delivery.events) {
            const { receivedAtMs } = arrived;
            const fault = await applyPatientEvent(
              this.#services,
              event,
              submissionId,
              receivedAtMs,
            );
            if (fault !== null) return fault;
          }
          return null;
        });
    }
  }

  async #takeObservations(arrived: Arrived, delivery: ObservationDelivery): Promise<HandlerReply> {
    const { pool, names, pipeline } = this.#services;
    const { deliverer, header, receivedAtMs } = arrived;
    await noteDeviceClocks(
      pool,
      names,
      delivery.clockPairs.map(({ device, deviceTimeMs, reporterTimeMs }) => ({
        device,
        deviceMs: deviceTimeMs,
        trueMs: reporterTimeMs,
      })),
      receivedAtMs,
    );
    const { found, sets } = await sortAmendments(pool, deliverer.sourceKey, delivery.amendments);
    const answers = this.#answersOf(header, ACCEPTED);
    const bytes = deliveredBytes(arrived, answers);
    const all = await this.#markReused(arrived, [...delivery.sets, ...sets]);
    if (all.length === 0) {
      const kept = await pipeline.keepDelivery(deliverer, bytes, received());
      if (!kept.repeat) await applyAmendments(this.#services, kept.envelope, found);
      return this.#counted(kept.repeat ? 'repeat' : 'taken', answers);
    }
    const { envelope, repeat } = await pipeline.receiveDelivery(deliverer, bytes, all);
    if (!repeat) await applyAmendments(this.#services, envelope, found);
    return this.#counted(repeat ? 'repeat' : 'taken', answers);
  }

  /** A control id that another message had: both are taken, and the readings say so. */
  async #markReused(
    { deliverer, header }: Arrived,
    sets: readonly DeliveredSet[],
  ): Promise<readonly DeliveredSet[]> {
    if (sets.length === 0) return sets;
    const controlId = controlIdOf(header);
    const used = await isControlIdUsed(this.#services.pool, deliverer.sourceKey, controlId);
    return used ? sets.map((set) => ({ ...set, readings: set.readings.map(withReuse) })) : sets;
  }

  /** Keeps a message that brings no readings, carries it out, and then says how that went. */
  async #keepThen(
    arrived: Arrived,
    test: boolean,
    work: (submissionId: string) => Promise<string | null>,
  ): Promise<HandlerReply> {
    const { pipeline, pool } = this.#services;
    const { deliverer, header } = arrived;
    const foreseen = this.#answersOf(header, ACCEPTED);
    const kept = await pipeline.keepDelivery(
      deliverer,
      deliveredBytes(arrived, foreseen),
      received(),
    );
    const { submissionId } = kept.envelope;
    const fault = test ? null : await work(submissionId);
    if (fault === null) return this.#counted(kept.repeat ? 'repeat' : 'taken', foreseen);
    const faults = [refusal(fault)];
    const answers = this.#answersOf(header, { kind: 'processed', result: 'error', faults });
    await setAcknowledged(pool, submissionId, answers[0]?.code ?? null);
    return this.#counted('not-carried-out', answers);
  }

  async #refuse(
    arrived: Arrived,
    outcome: Extract<Outcome, { kind: 'refused' }>,
  ): Promise<HandlerReply> {
    const answer = this.#answer(arrived.header, outcome);
    const answers = answer === null ? [] : [answer];
    const [first] = outcome.faults;
    const detail = `The message was kept, but not taken: ${first?.text ?? 'it cannot be read'}.`;
    await this.#keepRefused(arrived.deliverer, deliveredBytes(arrived, answers), detail);
    return this.#counted('refused', answers);
  }

  async #keepRefused(deliverer: Deliverer, arrival: DeliveredBytes, detail: string): Promise<void> {
    const answer = problemBody({ status: 400, detail });
    const content = { status: 400, answer, action: 'message-refused' };
    await this.#services.pipeline.keepDelivery(deliverer, arrival, content);
  }

  #counted(outcome: string, answers: readonly Acknowledgement[]): HandlerReply {
    this.#services.countMessage(outcome);
    return { acknowledgements: answers.map(({ bytes }) => bytes) };
  }

  /** That it is kept, and that it has been worked on: as far as the sender wants to hear it. */
  #answersOf(header: Hl7Header, processed: Outcome): Acknowledgement[] {
    return [{ kind: 'kept' } as const, processed].flatMap((outcome) => {
      const answer = this.#answer(header, outcome);
      return answer === null ? [] : [answer];
    });
  }

  #answer(header: Hl7Header, outcome: Outcome): Acknowledgement | null {
    return acknowledge(header, outcome, {
      now: { epochMs: this.#services.clock(), offsetMinutes: 0 },
      makeId: () => randomBytes(10).toString('hex'),
      application: APPLICATION,
    });
  }
}

const ACCEPTED: Outcome = { kind: 'processed', result: 'accept' };

function refusal(text: string): Hl7Fault {
  return { location: null, code: '207', severity: 'E', text };
}

/** Nothing could be read of it, and it says why. */
function isUnreadable(delivery: Hl7Delivery): boolean {
  if (!delivery.faults.some(({ severity }) => severity === 'E' || severity === 'F')) return false;
  switch (delivery.kind) {
    case 'observations':
      return delivery.sets.length + delivery.amendments.length + delivery.clockPairs.length === 0;
    case 'associations':
      return delivery.associations.length === 0;
    case 'patient-event':
      return delivery.events.length === 0;
  }
}

function controlIdOf({ controlIdBytes }: Hl7Header): string {
  return controlIdBytes.toString('latin1').replaceAll('\0', '');
}

function deliveredBytes(
  { bytes, header, sentAtMs }: Arrived,
  answers: readonly Acknowledgement[],
): DeliveredBytes {
  const message: MessageHeader = {
    controlId: controlIdOf(header),
    messageType: `${header.messageType}^${header.event}`.replaceAll('\0', ''),
    sentAtMs,
    acknowledged: answers[0]?.code ?? null,
  };
  return { bytes, contentType: CONTENT_TYPE, message };
}

function received(): { status: number; answer: Buffer; action: string } {
  return { status: 200, answer: Buffer.from('{}'), action: 'message-received' };
}

function withReuse(reading: IncomingReading): IncomingReading {
  const { report } = reading;
  if (report === undefined) return reading;
  return {
    ...reading,
    report: { ...report, doubts: [...(report.doubts ?? []), 'control-id-reused'] },
  };
}
