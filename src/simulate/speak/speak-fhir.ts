import type { Bundle } from 'fhir/r4.js';
import { writeBundle } from '../protocols/write-bundle.js';
import type { HttpAnswer, HttpLink } from '../wire/http-link.js';
import { problemWords } from './problem-words.js';
import type { Answer, Speaker } from './speaker.js';

/** Transactions of FHIR: the answer to each Observation says whether it is published. */
export function speakFhir(link: HttpLink): Speaker {
  return {
    write(measurement, id) {
      const message = {
        path: '/fhir',
        contentType: 'application/fhir+json',
        body: writeBundle(measurement, id),
        scope: 'system/Observation.c',
      } as const;
      const observations = measurement.samples.length;
      return {
        async deliver(cut) {
          const answer = await link.send(message, cut !== undefined);
          return answer === null ? null : readAnswer(answer, observations);
        },
      };
    },
  };
}

/** Observations stand last in the Bundle, and are answered in its order. */
function readAnswer({ status, text }: HttpAnswer, observations: number): Answer {
  const isTaken = status === 200;
  const { entry = [] } = isTaken ? (JSON.parse(text) as Bundle) : {};
  const statuses = entry
    .slice(-observations)
    .map((one) => (one.response?.status ?? '').slice(0, 3));
  const out = statuses.filter((one) => one === '200' || one === '201').length;
  return {
    code: String(status),
    isTaken,
    verdicts: null,
    ...(isTaken && { published: { out, kept: statuses.length - out } }),
    isRepeat: false,
    words: isTaken ? '' : problemWords(text),
  };
}
