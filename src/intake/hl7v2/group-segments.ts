import type { Hl7Fault } from './fault.js';
import type { Hl7Segment } from './segment.js';

/** One OBX with the PRT segments after it. */
export interface ObxRow {
  readonly obx: Hl7Segment;
  /** Its place among all OBX of the message, counted from 0. */
  readonly index: number;
  readonly participations: readonly Hl7Segment[];
}

/** ORDER_OBSERVATION: one OBR, its PRT segments and its rows. Null: rows that stand under no OBR. */
export interface OrderGroup {
  readonly obr: Hl7Segment | null;
  readonly participations: readonly Hl7Segment[];
  readonly rows: readonly ObxRow[];
}

/** PATIENT_RESULT: what belongs to one patient. Null: it names none, and nobody's before it is taken over. */
export interface PatientGroup {
  readonly pid: Hl7Segment | null;
  readonly pv1: Hl7Segment | null;
  readonly orders: readonly OrderGroup[];
  /** Another PID, of another patient, stands right before it: whose the readings are nobody can tell. */
  readonly isContested: boolean;
}

interface OpenOrder extends OrderGroup {
  readonly participations: Hl7Segment[];
  readonly rows: (ObxRow & { participations: Hl7Segment[] })[];
}

interface OpenGroup extends PatientGroup {
  pv1: Hl7Segment | null;
  readonly orders: OpenOrder[];
}

/**
 * Puts the segments of an ORU^R01 into its groups (IHE Devices TF-2 §3.1.4.1.1). Segments that the
 * grammar does not know are passed over. A PID begins a patient, always; a PV1 where no PID can be its
 * own begins one who is not named, because a PID may have been lost.
 */
export function groupSegments(segments: readonly Hl7Segment[]): {
  readonly groups: readonly PatientGroup[];
  readonly faults: readonly Hl7Fault[];
} {
  const grouping = new Grouping();
  for (const segment of segments) grouping.take(segment);
  const groups = grouping.groups.filter(({ orders }) => orders.length > 0);
  return { groups, faults: grouping.faults };
}

/** Keeps the list short when every segment is out of place. */
const MAX_FAULTS = 50;

class Grouping {
  readonly groups: OpenGroup[] = [];
  readonly faults: Hl7Fault[] = [];
  #rows = 0;
  /** Where the next PRT belongs; null: to nothing that is read. */
  #participations: Hl7Segment[] | null = null;

  take(segment: Hl7Segment): void {
    switch (segment.id) {
      case 'PID':
        this.#open(segment);
        return;
      case 'PV1':
        this.#takeVisit(segment);
        return;
      case 'OBR':
        this.#openOrder(segment);
        return;
      case 'OBX':
        this.#takeRow(segment);
        return;
      case 'PRT':
        this.#participations?.push(segment);
        return;
      default:
        return;
    }
  }

  #open(pid: Hl7Segment | null): OpenGroup {
    const rival = this.groups.at(-1);
    const isContested = pid !== null && rival?.orders.length === 0 && namesAnother(rival.pid, pid);
    if (isContested) this.#report(pid, 'two PIDs follow one another, and they name two patients');
    const group: OpenGroup = { pid, pv1: null, orders: [], isContested };
    this.groups.push(group);
    this.#participations = null;
    return group;
  }

  #takeVisit(pv1: Hl7Segment): void {
    const last = this.groups.at(-1);
    this.#participations = null;
    if (last?.orders.length === 0 && last.pv1 === null) {
      last.pv1 = pv1;
      return;
    }
    this.#report(pv1, 'a PV1 must follow its PID; what comes after it names no patient');
    this.#open(null).pv1 = pv1;
  }

  #openOrder(obr: Hl7Segment | null): OpenOrder {
    const group = this.groups.at(-1) ?? this.#open(null);
    const order: OpenOrder = { obr, participations: [], rows: [] };
    group.orders.push(order);
    this.#participations = order.participations;
    return order;
  }

  #takeRow(obx: Hl7Segment): void {
    let order = this.groups.at(-1)?.orders.at(-1);
    if (order === undefined) {
      this.#report(obx, 'an OBX must follow an OBR');
      order = this.#openOrder(null);
    }
    const row = { obx, index: this.#rows, participations: [] };
    this.#rows += 1;
    order.rows.push(row);
    this.#participations = row.participations;
  }

  #report(segment: Hl7Segment, text: string): void {
    if (this.faults.length >= MAX_FAULTS) return;
    this.faults.push({ location: segment.at(), code: '100', severity: 'W', text });
  }
}

function namesAnother(one: Hl7Segment | null, other: Hl7Segment): boolean {
  return one !== null && !one.field(3).rawBytes.equals(other.field(3).rawBytes);
}
