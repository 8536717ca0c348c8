import type { Identifier } from '../../vitals/shapes.js';
import { Containment, type PlacedRow } from './containment.js';
import type { OrderGroup } from './group-segments.js';
import type { MessageScope } from './message-scope.js';
import {
  equipmentIn,
  equipmentOf,
  operatorIn,
  operatorOf,
  type Operator,
} from './participations.js';
import { readFlags } from './read-flags.js';
import { NO_TIME, type ToldTime } from './read-moment.js';
import { readPlaces, type ToldPlaces } from './read-site.js';

/** What the rows of one order are read by: their own words first, then those of what contains them. */
export interface OrderScope {
  readonly message: MessageScope;
  readonly rows: readonly PlacedRow[];
  /** OBX-18 and PRT: the device, then what it is a part of. */
  readonly devicesOf: (row: PlacedRow) => readonly Identifier[];
  /** OBX-14, else OBR-7. */
  readonly timeOf: (row: PlacedRow) => ToldTime;
  /** OBX-20. */
  readonly placesOf: (row: PlacedRow) => ToldPlaces | null;
  /** OBX-16, else PRT of the row, else PRT of the order. */
  readonly operatorOf: (row: PlacedRow) => Operator;
  /** Whether the device or a part of it says that it is being tested or shown. */
  readonly isTested: (row: PlacedRow) => boolean;
}

const MAX_DEVICES = 8;

export function scopeOfOrder(order: OrderGroup, message: MessageScope): OrderScope {
  const tree = new Containment(order.rows, message.signOf);
  return {
    message,
    rows: tree.rows,
    devicesOf: devicesBy(tree, order, message),
    timeOf: timesBy(tree, order, message),
    placesOf: placesBy(tree),
    operatorOf: operatorsBy(order, message),
    isTested: testsBy(tree),
  };
}

function devicesBy(
  tree: Containment,
  order: OrderGroup,
  { identifiers }: MessageScope,
): OrderScope['devicesOf'] {
  const own = ({ obx, participations }: PlacedRow) => {
    const named = equipmentOf(obx, identifiers);
    const beside = participations.length === 0 ? [] : equipmentIn(participations, identifiers);
    return beside.length === 0 ? named : [...named, ...beside];
  };
  const above = tree.inheriting(
    (row) => {
      const devices = own(row);
      return devices.length === 0 ? null : devices;
    },
    (devices) => JSON.stringify(devices),
  );
  const ofOrder = equipmentIn(order.participations, identifiers);
  return (row) => distinct([...own(row), ...above(row).flat(), ...ofOrder]).slice(0, MAX_DEVICES);
}

function distinct(devices: readonly Identifier[]): readonly Identifier[] {
  if (devices.length < 2) return devices;
  const seen = new Set<string>();
  return devices.filter(({ system, value }) => {
    const key = `${system} ${value}`;
    return !seen.has(key) && seen.add(key);
  });
}

function timesBy(
  tree: Containment,
  { obr }: OrderGroup,
  { moments }: MessageScope,
): OrderScope['timeOf'] {
  const own = ({ obx }: PlacedRow) => timeText(obx.text(14));
  const above = tree.inheriting(own, (text) => text);
  const ofOrder = obr === null ? null : timeText(obr.text(7));
  return (row) => {
    const text = own(row) ?? above(row)[0] ?? ofOrder;
    return text === null ? NO_TIME : moments.told(text);
  };
}

function timeText(text: string): string | null {
  const trimmed = text.trim();
  return trimmed === '' || trimmed === '""' ? null : trimmed;
}

function placesBy(tree: Containment): OrderScope['placesOf'] {
  const own = ({ obx }: PlacedRow) => readPlaces(obx.field(20));
  const above = tree.inheriting(own, (places) => JSON.stringify(places));
  return (row) => own(row) ?? above(row)[0] ?? null;
}

function operatorsBy(order: OrderGroup, { identifiers }: MessageScope): OrderScope['operatorOf'] {
  const ofOrder = operatorIn(order.participations, identifiers);
  return ({ obx, participations }) => {
    const inRow = operatorOf(obx, 16, identifiers);
    if (inRow.named) return inRow;
    const beside = operatorIn(participations, identifiers);
    return beside.named ? beside : ofOrder;
  };
}

function testsBy(tree: Containment): OrderScope['isTested'] {
  const own = (row: PlacedRow) => (readFlags(row.obx).test ? true : null);
  const above = tree.inheriting(own, () => 'test');
  return (row) => own(row) === true || above(row).length > 0;
}
