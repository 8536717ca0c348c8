/** What the schema of a mapping cannot say: what each sign takes, and that nothing is mapped twice. */
import { CATALOGUE } from '../vitals/catalogue.js';
import type { CodeMapping, SourceMapping, UnitMapping } from '../vitals/source-profile.js';
import type { Fault } from '../vitals/shapes.js';
import { ENTERED_UNITS } from '../vitals/words.js';
import { quoted } from './pointers.js';

/** The faults of a mapping that fits its schema. */
export function mappingFaults({ codes, units }: SourceMapping): readonly Fault[] {
  return [
    ...codes.flatMap((code, place) => codeFaults(code, `/codes/${place}`)),
    ...repeated(codes, nameOfCode, '/codes'),
    ...units.flatMap((unit, place) => unitFaults(unit, `/units/${place}`)),
    ...repeated(units, ({ alias }) => alias, '/units'),
  ];
}

function codeFaults({ vital, part, method, site }: CodeMapping, pointer: string): Fault[] {
  const row = CATALOGUE[vital];
  if (row.form === 'code') {
    const message = `${vital} is told by words, which no mapping reads`;
    return [{ pointer: `${pointer}/vital`, message }];
  }
  const faults: Fault[] = [];
  if (row.form === 'pressure' && part === undefined) {
    faults.push({ pointer, message: `a code of ${vital} must say of which "part"` });
  }
  if (row.form !== 'pressure' && part !== undefined) {
    faults.push({ pointer: `${pointer}/part`, message: `${vital} has no parts` });
  }
  if (method !== undefined && !row.methodsTaken.includes(method)) {
    faults.push({ pointer: `${pointer}/method`, message: `is no method of ${vital}` });
  }
  if (site !== undefined && !row.sitesTaken.includes(site)) {
    faults.push({ pointer: `${pointer}/site`, message: `is no site of ${vital}` });
  }
  return faults;
}

/** A spelling that is a unit already is never made another one. */
function unitFaults({ alias }: UnitMapping, pointer: string): Fault[] {
  if (!(ENTERED_UNITS as readonly string[]).includes(alias)) return [];
  return [
    { pointer: `${pointer}/alias`, message: `${quoted(alias)} is a unit and is read as that` },
  ];
}

function nameOfCode({ system, code }: CodeMapping): string {
  return JSON.stringify([system, code]);
}

function repeated<T>(list: readonly T[], nameOf: (one: T) => string, pointer: string): Fault[] {
  const first = new Map<string, number>();
  return list.flatMap((one, place) => {
    const before = first.get(nameOf(one));
    if (before === undefined) first.set(nameOf(one), place);
    return before === undefined
      ? []
      : [{ pointer: `${pointer}/${place}`, message: `maps what ${pointer}/${before} maps` }];
  });
}
