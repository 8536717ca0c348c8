/** The judgement alone: normalise, rules and verdict of a seven-reading set, against parsing and writing JSON. */
import { checkSet } from '../src/contract/compile.js';
import { readJson } from '../src/intake/set-json/read-json.js';
import { normaliseSet } from '../src/normalise/normalise-set.js';
import { runRules } from '../src/rules/run.js';
import { decideVerdicts } from '../src/verdict/decide.js';
import { EDITION } from '../src/vitals/edition.js';
import { DEFAULT_LIMITS } from '../src/vitals/limits.js';
import type { IncomingSet } from '../src/vitals/shapes.js';
import { exampleBody } from './example-body.js';

const SETS = 200;
const ROUNDS = 60;

/** Microseconds of processor time a call, the best of three rounds of rounds. */
function costOf(work: (n: number) => unknown): number {
  let best = Infinity;
  for (let k = 0; k < 3; k += 1) {
    const before = process.cpuUsage();
    for (let round = 0; round < ROUNDS; round += 1) for (let n = 0; n < SETS; n += 1) work(n);
    const { user, system } = process.cpuUsage(before);
    best = Math.min(best, (user + system) / (SETS * ROUNDS));
  }
  return best;
}

function at<T>(list: readonly T[], n: number): T {
  const found = list[n];
  if (found === undefined) throw new Error('the bench asked beyond its sets');
  return found;
}

function parse(body: Buffer): IncomingSet {
  const read = readJson(body);
  const checked = read.ok ? checkSet(read.value) : read;
  if (!checked.ok || !('set' in checked)) throw new Error('the bench set is no set');
  return checked.set;
}

/** The two costs in µs a set. `observation`: the text of one Observation as it is served. */
export function measurePurePath(observation: string): { judgingUs: number; jsonUs: number } {
  const nowMs = Date.now();
  const bodies = Array.from({ length: SETS }, (_, n) =>
    Buffer.from(exampleBody(crypto.randomUUID(), n, new Date(nowMs - 60_000))),
  );
  const texts = bodies.map((body) => body.toString());
  const sets = bodies.map(parse);
  const register = { birthDate: '1961-04-17', familyName: 'Bench', gender: 'female' } as const;
  const seven = Array.from({ length: 7 }, () => JSON.parse(observation) as unknown);
  const judgingUs = costOf((n) => {
    const context = {
      set: normaliseSet(at(sets, n)),
      receivedAtMs: nowMs,
      patient: register,
      encounterOfAnother: false,
      source: { attended: true, secondIdentifierRequired: false },
      earlier: [],
      history: [],
      limits: DEFAULT_LIMITS,
    };
    return decideVerdicts(context, runRules(context), EDITION);
  });
  const jsonUs = costOf((n) => [
    JSON.parse(at(texts, n)) as unknown,
    ...seven.map((resource) => JSON.stringify(resource)),
  ]);
  return { judgingUs, jsonUs };
}
