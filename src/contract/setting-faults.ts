/** What the schema of a site's configuration cannot say: which settings there are, each in which unit. */
import { SANE_RANGES } from '../vitals/setting.js';
import { findSetting } from '../vitals/settings.js';
import type { Fault } from '../vitals/shapes.js';
import { pointerTo, quoted } from './pointers.js';

function membersOf(value: unknown): readonly (readonly [string, unknown])[] {
  const isObject = typeof value === 'object' && value !== null && !Array.isArray(value);
  return isObject ? Object.entries(value) : [];
}

/** Every setting that there is none of, and every unit that is not the setting's own; of any value. */
export function settingFaults(value: unknown): readonly Fault[] {
  const [, settings] = membersOf(value).find(([member]) => member === 'settings') ?? [];
  return membersOf(settings).flatMap(([id, written]) => {
    const pointer = pointerTo('/settings', id);
    const setting = findSetting(id);
    if (setting === null) return [{ pointer, message: `there is no setting ${quoted(id)}` }];
    const [, unit] = membersOf(written).find(([member]) => member === 'unit') ?? [];
    // What is no unit at all the schema has told.
    if (typeof unit !== 'string' || !Object.hasOwn(SANE_RANGES, unit) || unit === setting.unit)
      return [];
    return [
      {
        pointer: pointerTo(pointer, 'unit'),
        message: `${id} is told in ${quoted(setting.unit)}, not in ${quoted(unit)}; nothing is converted`,
      },
    ];
  });
}

/** Ids of settings, as pointers spell them, that these pointers point into. */
export function settingsIn(pointers: readonly string[]): ReadonlySet<string> {
  return new Set(
    pointers.flatMap((pointer) => {
      const [, member, id] = pointer.split('/');
      return member === 'settings' && id !== undefined ? [id] : [];
    }),
  );
}
