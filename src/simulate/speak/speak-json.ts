import type { Verdict } from '../../vitals/words.js';
import { writeSet } from '../protocols/write-set.js';
import type { HttpAnswer, HttpLink } from '../wire/http-link.js';
import { problemWords } from './problem-words.js';
import type { Answer, Speaker } from './speaker.js';

/** Sets in JSON: each is answered with the verdict of every reading. */
export function speakJson(link: HttpLink): Speaker {
  return {
    write(measurement, id) {
      const message = {
        path: '/sets',
        contentType: 'application/json',
        body: JSON.stringify(writeSet(measurement, id)),
        scope: 'sets.write',
      } as const;
      return {
        async deliver(cut) {
          const answer = await link.send(message, cut !== undefined);
          return answer === null ? null : readAnswer(answer);
        },
      };
    },
  };
}

interface SetAnswer {
  readonly readings?: readonly { readonly verdict: Verdict }[];
}

function readAnswer({ status, headers, text }: HttpAnswer): Answer {
  const readings = status === 201 || status === 422 ? (JSON.parse(text) as SetAnswer).readings : [];
  const isTaken = readings !== undefined && readings.length > 0;
  return {
    code: String(status),
    isTaken,
    verdicts: isTaken ? readings.map(({ verdict }) => verdict) : null,
    isRepeat: headers.repeat === 'true',
    words: isTaken ? '' : problemWords(text),
  };
}
