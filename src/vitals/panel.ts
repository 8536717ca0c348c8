/**
 * The vital-signs panel: what was measured together, told as one Observation whose members the readings
 * are. It has no value of its own, so that a member that is corrected changes nothing in it.
 */
import { loinc } from './codes.js';
import type { ObservationStatus } from './words.js';

/** Display as in the table of FHIR R4 4.0.1 §10.1.19 (observation-vitalsigns). */
export const PANEL_CODING = loinc(
  '85353-1',
  'Vital signs, weight, height, head circumference, oxygen saturation and BMI panel',
);

/** What lies further apart was not measured at about one time, however it was sent. Common practice, no source. */
const ONE_TIME_MS = 15 * 60_000;

/** A published reading of a set: one that the set brought, or one that another set had brought before. */
export interface PanelReading {
  readonly readingId: string;
  readonly patientKey: number;
  readonly status: ObservationStatus;
  readonly takenAtMs: number;
  /** The set itself brought it. */
  readonly own: boolean;
}

/** What a version of a panel says. */
export interface PanelState {
  readonly patientKey: number;
  /** Ids of readings, in the order of the set. */
  readonly members: readonly string[];
  readonly status: ObservationStatus;
  /** The earliest time of those that the set itself brought. */
  readonly takenAtMs: number;
}

/** The newest version of a panel. */
export interface KeptPanel extends PanelState {
  /** This version or one before it was `final`, `amended` or `corrected`. */
  readonly wasFinal: boolean;
}

/**
 * What the next version of a set's panel says; null: there is to be none.
 *
 * Members are the published readings of one patient that are not in error, two of them at least, and not
 * only such as another set brought: that one has the panel then. A panel with fewer is itself in error,
 * and keeps the members that it had.
 * @param published readings of the set, in its order
 */
export function nextPanel(
  before: KeptPanel | null,
  published: readonly PanelReading[],
): PanelState | null {
  const members = membersOf(before, published);
  const next = members === null ? withdrawn(before, published) : standing(before, members);
  return next === null || (before !== null && isSame(before, next)) ? null : next;
}

/** Of the patient whose the panel was, else of the first who has enough. */
function membersOf(
  before: KeptPanel | null,
  published: readonly PanelReading[],
): readonly PanelReading[] | null {
  const live = published.filter(({ status }) => status !== 'entered-in-error');
  const first = before === null ? [] : [before.patientKey];
  const patients = new Set([...first, ...live.map(({ patientKey }) => patientKey)]);
  for (const key of patients) {
    const members = live.filter(({ patientKey }) => patientKey === key);
    if (members.length < 2 || !members.some(({ own }) => own)) continue;
    // Asked when it first goes out: what is out follows its readings, wherever their times are moved.
    if (before !== null || areOfOneTime(members)) return members;
  }
  return null;
}

function areOfOneTime(members: readonly PanelReading[]): boolean {
  const times = members.map(({ takenAtMs }) => takenAtMs);
  return Math.max(...times) - Math.min(...times) <= ONE_TIME_MS;
}

function standing(before: KeptPanel | null, members: readonly PanelReading[]): PanelState {
  const [first] = members;
  const own = members.filter((one) => one.own).map(({ takenAtMs }) => takenAtMs);
  const state = {
    patientKey: first?.patientKey ?? 0,
    members: members.map(({ readingId }) => readingId),
    takenAtMs: Math.min(...own),
  };
  const statuses = members.map(({ status }) => status);
  return { ...state, status: statusOf(before, state, statuses) };
}

function statusOf(
  before: KeptPanel | null,
  now: Omit<PanelState, 'status'>,
  statuses: readonly ObservationStatus[],
): ObservationStatus {
  if (statuses.includes('preliminary')) return 'preliminary';
  if (statuses.every((status) => status === 'cancelled')) return 'cancelled';
  if (before?.wasFinal !== true) return 'final';
  const isWrongNow =
    before.status === 'entered-in-error' ||
    before.takenAtMs !== now.takenAtMs ||
    before.members.some((id) => !now.members.includes(id));
  if (isWrongNow) return 'corrected';
  const isSettled =
    before.status === 'final' || before.status === 'amended' || before.status === 'corrected';
  return isSettled && before.members.length === now.members.length ? before.status : 'amended';
}

/** It is of the patient of its former members: these stay, unless they have become another patient's. */
function withdrawn(
  before: KeptPanel | null,
  published: readonly PanelReading[],
): PanelState | null {
  if (before === null) return null;
  const former = published.filter(({ readingId }) => before.members.includes(readingId));
  const stays = former.some(({ patientKey }) => patientKey === before.patientKey);
  const patientKey = stays ? before.patientKey : (former[0]?.patientKey ?? before.patientKey);
  const members = former.filter((one) => one.patientKey === patientKey);
  return {
    ...{ patientKey, status: 'entered-in-error', takenAtMs: before.takenAtMs },
    members: members.length === 0 ? before.members : members.map(({ readingId }) => readingId),
  };
}

function isSame(one: PanelState, other: PanelState): boolean {
  return (
    one.patientKey === other.patientKey &&
    one.status === other.status &&
    one.takenAtMs === other.takenAtMs &&
    one.members.join() === other.members.join()
  );
}
