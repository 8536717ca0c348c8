import type { ContextKind } from '../../vitals/coded-sign.js';
import type { UnreadReason } from '../../vitals/device-report.js';
import { codesOf } from './coded-field.js';
import type { PlacedRow } from './containment.js';
import type { OrderScope } from './order-scope.js';
import { readSignRow } from './read-sign-row.js';
import { speaksOfEarlier } from './read-flags.js';
import type { StatusMarks } from './read-status-rows.js';
import { isWithoutValue } from './read-value.js';
import type { RowOutcome } from './row-reading.js';
import { unreadRow } from './unread-row.js';

const STRUCTURE: RowOutcome = { kind: 'structure' };

/** Reads one OBX: as a reading, as a row that brings none, or as a part of the device's structure. */
export function readRow(row: PlacedRow, scope: OrderScope, marks: StatusMarks): RowOutcome {
  const { found, obx } = row;
  if (found.kind === 'sign') return readSignRow(row, found.sign, scope, marks);
  const empty = isWithoutValue(obx.field(5));
  if (found.kind === 'panel' && (!empty || speaksOfEarlier(obx))) {
    // A pressure in one text is never taken apart: it is kept as a reading that cannot be read.
    const { method } = found;
    const sign = { vital: 'blood-pressure', ...(method !== undefined && { method }) } as const;
    return readSignRow(row, sign, scope, marks);
  }
  const because = empty ? whyEmpty(row) : whyUnread(row);
  if (because === null) return STRUCTURE;
  return unreadRow(row, scope, scope.operatorOf(row).identifier, because);
}

type Because = { readonly reason: UnreadReason; readonly message: string } | null;

/** A row of a device, a heading, or one that another row is read with needs no value. */
function whyEmpty({ obx, path, found }: PlacedRow): Because {
  if (found.kind !== 'unmapped' || path.isDevice) return null;
  const codes = codesOf(obx.field(3).repetition(1));
  if (codes.some(({ name }) => DEVICE.test(name ?? ''))) return null;
  return { reason: 'no-value', message: 'The row has no value, and its code is not known.' };
}

/** Devices, virtual devices and channels of IEEE 11073. */
const DEVICE = /^MDC_DEV_|^MDC_MOC_|_(?:MDS|VMD|CHAN)$/;

function whyUnread({ found }: PlacedRow): Because {
  if (found.kind === 'not-a-vital-sign') return notVital(found.about);
  if (found.kind === 'context') {
    const about = ABOUT[found.context];
    return about === undefined ? null : notVital(about);
  }
  const message = 'The code is not known, and this source has no mapping for it.';
  return { reason: 'code-unmapped', message };
}

function notVital(about: string): Because {
  const subject = about.charAt(0).toUpperCase() + about.slice(1);
  return { reason: 'not-a-vital-sign', message: `${subject} is none of the vital signs.` };
}

/** The other kinds of context are read with the rows that they are about. */
const ABOUT: Readonly<Partial<Record<ContextKind, string>>> = {
  'perfusion-index': 'a perfusion index',
  'signal-quality': 'the quality of a signal',
  association: 'whose a device is',
};
