import type { UnreadReason } from '../../vitals/device-report.js';
import { codesOf } from './coded-field.js';
import type { PlacedRow } from './containment.js';
import type { OrderScope } from './order-scope.js';
import { valueText } from './read-value.js';
import type { UnreadOutcome } from './row-reading.js';

const MAX_CODE_CHARACTERS = 100;

/** A row that brings no reading, with what stands in it for the analyst. */
export function unreadRow(
  { obx, index }: PlacedRow,
  scope: OrderScope,
  recorder: UnreadOutcome['recorder'],
  because: { readonly reason: UnreadReason; readonly message: string },
): UnreadOutcome {
  const cut = (text: string) => text.slice(0, MAX_CODE_CHARACTERS);
  const [code] = codesOf(obx.field(3).repetition(1));
  const { unit } = scope.message.unitOf(obx.field(6));
  const value = valueText(obx.field(5));
  return {
    kind: 'unread',
    recorder,
    unread: {
      index,
      at: `OBX ${obx.occurrence}`,
      ...because,
      ...(code !== undefined && {
        code: {
          ...(code.system !== undefined && { system: cut(code.system) }),
          code: cut(code.code ?? code.name ?? ''),
          ...(code.name !== undefined && { name: cut(code.name) }),
        },
      }),
      ...(unit !== undefined && { unit }),
      ...(value !== '' && { value }),
    },
  };
}
