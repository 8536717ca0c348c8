/** Judges what became of each message; where its answer does not tell, the review is asked afterwards. */
import { renderMoment } from '../serve/fhir/render-moment.js';
import { VERDICTS } from '../vitals/words.js';
import type { Verdict } from '../vitals/words.js';
import { identifierOf, nameOf } from './device.js';
import type { Measurement } from './measurement.js';
import { findFlaw, madeOf } from './outcome.js';
import type { Fate } from './outcome.js';
import type { Carried } from './run-ward.js';
import type { Tally } from './tally.js';
import type { Clients } from './wire/clients.js';

/** So many messages with a fault, and as many without one, are looked up; of others their answer must do. */
const MOST_LOOKED_UP = 300;
const AT_ONCE = 4;
const SCOPE = 'review.read';

export class FateJudge {
  readonly #gateway: string;
  readonly #clients: Clients | null;
  readonly #tally: Tally;
  readonly #faulty: Carried[] = [];
  readonly #faultless: Carried[] = [];

  constructor(gateway: string, clients: Clients | null, tally: Tally) {
    this.#gateway = gateway;
    this.#clients = clients;
    this.#tally = tally;
  }

  take(carried: Carried): void {
    const { answer, fault } = carried;
    const list = fault === null ? this.#faultless : this.#faulty;
    const mayAsk = this.#clients?.may(SCOPE) === true && list.length < MOST_LOOKED_UP;
    if (mayAsk && answer.isTaken && answer.verdicts === null) list.push(carried);
    else this.#judge(carried, null);
  }

  /** Looks up what could not be told before. */
  async settle(): Promise<void> {
    // One iterator for all: each takes the next.
    const left = [...this.#faulty, ...this.#faultless].values();
    const worker = async (): Promise<void> => {
      for (const next of left) this.#judge(next, await this.#lookUp(next.measurement));
    };
    await Promise.all(Array.from({ length: AT_ONCE }, worker));
  }

  #judge(carried: Carried, found: readonly Verdict[] | null): void {
    const { measurement, fault, answer, second } = carried;
    const { device, takenAt, sentAt, samples } = measurement;
    const fate: Fate = {
      ...{ fault, answer, second, found },
      readings: samples.length,
      isAhead: takenAt.epochMs > sentAt.epochMs,
      isDoubted: samples.some(({ signal }) => signal === 'questionable'),
    };
    this.#tally.made(fault, madeOf(fate));
    const flaw = findFlaw(fate);
    if (flaw === null) return;
    const what = fault === null ? 'a message' : `a message with the fault ${fault}`;
    this.#tally.flaw(
      `${nameOf(device)} in ${device.speaks}, ${renderMoment(takenAt)}: ${what} ${flaw}`,
    );
  }

  /** All readings that the device took at that moment. Null: the gateway does not say. */
  async #lookUp({ device, takenAt }: Measurement): Promise<readonly Verdict[] | null> {
    if (this.#clients === null) return null;
    const { system, value } = identifierOf(device);
    const asked = new URLSearchParams({
      device: `${system}|${value}`,
      verdict: VERDICTS.join(','),
      takenFrom: renderMoment(takenAt),
      takenTo: renderMoment({ ...takenAt, epochMs: takenAt.epochMs + 1 }),
    });
    try {
      const response = await fetch(`${this.#gateway}/review/readings?${asked.toString()}`, {
        headers: { authorization: await this.#clients.authorizationFor(SCOPE) },
      });
      if (!response.ok) return null;
      const { readings } = (await response.json()) as ReviewPage;
      return readings.map(({ verdict }) => verdict);
    } catch {
      return null;
    }
  }
}

interface ReviewPage {
  readonly readings: readonly { readonly verdict: Verdict }[];
}
