import type { SetJson } from '../door.js';

/** As the contract has it. */
const LONGEST_NOTE = 500;

/**
 * Adds what must be known of the device's clock to the note of each reading: the times themselves stay as
 * they were told. A note without room for it keeps its own words: somebody wrote them.
 */
export function withRemark(set: SetJson, remark: string | null): SetJson {
  if (remark === null) return set;
  return {
    ...set,
    readings: set.readings.map((reading) => {
      const note = reading.note === undefined ? remark : `${reading.note} ${remark}`;
      return note.length > LONGEST_NOTE ? reading : { ...reading, note };
    }),
  };
}
