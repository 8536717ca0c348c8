/** What is shown while the ward runs: a line a message, or a line a second. No line names a patient. */
import { nameOf } from './device.js';
import { madeOf } from './outcome.js';
import type { Carried } from './run-ward.js';
import type { Tally } from './tally.js';

/** Nobody reads more lines a second than this. */
const MOST_LINES_PER_SECOND = 10;

export interface Lines {
  readonly carried: (carried: Carried) => void;
  /** Nothing is shown any more. */
  readonly stop: () => void;
}

export function showLines(rate: number, tally: Tally, write: (line: string) => void): Lines {
  if (rate <= MOST_LINES_PER_SECOND) {
    return {
      carried: (carried) => {
        write(lineOf(carried, new Date()));
      },
      stop: () => undefined,
    };
  }
  let before = 0;
  const timer = setInterval(() => {
    const answered = tally.total('answered');
    const waiting = tally.total('messages') - answered - tally.total('lost');
    write(`${clockTime(new Date())}  ${answered - before} answered, ${waiting} waiting`);
    before = answered;
  }, 1000);
  return {
    carried: () => undefined,
    stop: () => {
      clearInterval(timer);
    },
  };
}

function clockTime(date: Date): string {
  return [date.getHours(), date.getMinutes(), date.getSeconds()]
    .map((part) => String(part).padStart(2, '0'))
    .join(':');
}

/** “07:40:12  oximeter 3       hl7v2  CA       acknowledged   6 ms  wrong-unit”. */
function lineOf({ measurement, fault, answer, second, latencyMs }: Carried, date: Date): string {
  const { device } = measurement;
  const codes = second === null ? [answer.code] : [answer.code, second.code];
  const columns = [
    clockTime(date),
    nameOf(device).padEnd(15),
    device.speaks.padEnd(5),
    codes.join(', ').padEnd(8),
    madeOf({ answer, found: null }).padEnd(13),
    `${Math.round(latencyMs)} ms`.padStart(7),
    fault ?? '',
  ];
  return columns.join('  ').trimEnd();
}
