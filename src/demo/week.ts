/** The week of the ward, set by set in the order of arrival: a pure function of the moment at which it ends. */
import type { IncomingReading, IncomingSet } from '../vitals/shapes.js';
import { INCIDENTS } from './incidents.js';
import { noiseOf } from './noise.js';
import { signsAt } from './signs.js';
import { device, setIdOf, takeSet, writtenTime } from './take-set.js';
import { MONITORED_MRN, WARD, mrnOf } from './ward.js';
import type { WardPatient } from './ward.js';

export interface ArrivingSet {
  /** The ward's own engine, or the monitor at one bed, which nobody watches over. */
  readonly from: 'ward' | 'monitor';
  readonly receivedAtMs: number;
  readonly set: IncomingSet;
}

const MINUTE_MS = 60_000;
const ROUNDS = 28;
const ROUND_MS = 6 * 60 * MINUTE_MS;
const MONITORED_HOURS = 24;

/** A round comes to its last bed about this long before the week ends. */
const LAST_ROUND_MS = 45 * MINUTE_MS;

function roundsAt(patient: WardPatient, nowMs: number): ArrivingSet[] {
  const weekFromMs = nowMs - LAST_ROUND_MS - ROUNDS * ROUND_MS;
  const noise = noiseOf(`${patient.mrn} times`);
  return Array.from({ length: ROUNDS }, (_, round) => {
    const roundMs = weekFromMs + (round + 1) * ROUND_MS;
    const atMs = roundMs + (patient.bed * 2 + noise.between(0, 3)) * MINUTE_MS;
    const taken = takeSet(patient, round, { atMs, weekFromMs, nowMs });
    const incident = INCIDENTS.find((one) => one.mrn === patient.mrn && one.round === round);
    const set = incident === undefined ? taken : incident.change(taken);
    return { from: 'ward', set, receivedAtMs: atMs + noise.between(3, 9) * MINUTE_MS };
  });
}

function monitorReadings(patient: WardPatient, atMs: number, name: string): IncomingReading[] {
  const signs = signsAt(patient, atMs, atMs, noiseOf(name));
  const monitor = device('MON-4');
  const number = (value: number, unit: string): { value: number; unit: string } => ({
    value: Math.round(value),
    unit,
  });
  return [
    {
      vital: 'pulse-rate',
      method: 'electrocardiography',
      ...number(signs.pulse, '/min'),
      ...monitor,
    },
    {
      vital: 'respiratory-rate',
      method: 'impedance',
      ...number(signs.breaths, '/min'),
      ...monitor,
    },
    {
      vital: 'oxygen-saturation',
      method: 'pulse-oximetry',
      site: 'finger',
      ...number(signs.saturation, '%'),
      ...monitor,
    },
  ];
}

/** Every hour of the last day, by a machine: half a minute after it was taken it is here. */
function monitorSets(patient: WardPatient, nowMs: number): ArrivingSet[] {
  return Array.from({ length: MONITORED_HOURS }, (_, hour) => {
    const atMs = nowMs - (15 + (MONITORED_HOURS - 1 - hour) * 60) * MINUTE_MS;
    const name = `${patient.mrn} monitor ${hour}`;
    const set: IncomingSet = {
      setId: setIdOf(name),
      patient: { identifier: mrnOf(patient.mrn), familyName: patient.familyName },
      takenAt: writtenTime(atMs),
      location: `larkfield/${patient.bed}`,
      readings: monitorReadings(patient, atMs, name),
    };
    return { from: 'monitor', receivedAtMs: atMs + MINUTE_MS, set };
  });
}

/** A patient whose registration has not come yet, and a single reading that is no percentage. */
function strays(nowMs: number): ArrivingSet[] {
  const newcomer: IncomingSet = {
    setId: setIdOf('newcomer'),
    patient: { identifier: mrnOf('LF-21002'), birthDate: '1968-12-05', familyName: 'Reed' },
    takenAt: writtenTime(nowMs - 100 * MINUTE_MS),
    location: 'larkfield/13',
    readings: [
      { vital: 'respiratory-rate', method: 'counted', count: 10, seconds: 30 },
      {
        vital: 'pulse-rate',
        method: 'palpation',
        site: 'radial-artery',
        side: 'right',
        count: 44,
        seconds: 30,
      },
      { vital: 'body-temperature', site: 'oral', value: '37.4', unit: 'Cel' },
    ],
  };
  const fraction: IncomingSet = {
    setId: setIdOf('fraction'),
    patient: { identifier: mrnOf('LF-20301'), familyName: 'Thistlewood' },
    takenAt: writtenTime(nowMs - 190 * MINUTE_MS),
    location: 'larkfield/11',
    readings: [{ vital: 'oxygen-saturation', site: 'finger', value: 0.96, unit: '%' }],
  };
  return [newcomer, fraction].map((set) => ({
    from: 'ward',
    receivedAtMs: Date.parse(set.takenAt) + 4 * MINUTE_MS,
    set,
  }));
}

/** All sets of the seven days before `nowMs`, in the order in which they arrive. */
export function weekBefore(nowMs: number): ArrivingSet[] {
  return [
    ...WARD.flatMap((patient) => roundsAt(patient, nowMs)),
    ...WARD.filter((patient) => patient.mrn === MONITORED_MRN).flatMap((patient) =>
      monitorSets(patient, nowMs),
    ),
    ...strays(nowMs),
  ].sort((a, b) => a.receivedAtMs - b.receivedAtMs);
}
