import type { SourceMapping } from '../../../vitals/source-profile.js';
import type { MappingFields } from './mapping-form.js';

function filled(
  fields: MappingFields,
  names: readonly (keyof MappingFields)[],
): Record<string, string> {
  return Object.fromEntries(
    names.map((name) => [name, fields[name].trim()] as const).filter(([, text]) => text !== ''),
  );
}

/**
 * A mapping with the code and the spelling of a form added; the same code, or spelling, takes the place of
 * the old one. Not checked: the reader of mappings finds every fault of it.
 */
export function extendMapping(
  base: SourceMapping,
  fields: MappingFields,
): Readonly<Record<string, unknown>> {
  const code = filled(fields, ['system', 'code', 'vital', 'part', 'method', 'site']);
  const unit = filled(fields, ['alias', 'unit']);
  const codes = base.codes.filter(
    (one) => one.code !== code.code || (one.system ?? '') !== (code.system ?? ''),
  );
  const units = base.units.filter(({ alias }) => alias !== unit.alias);
  return {
    codes: code.code === undefined ? base.codes : [code, ...codes],
    units: unit.alias === undefined ? base.units : [...units, unit],
  };
}
