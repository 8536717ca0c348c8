/** Messages of an invented ward, written for these tests. */

/** Fields of an MSH segment that a case changes, by their number. */
export type HeaderFields = Readonly<Record<number, string>>;

const USUAL: HeaderFields = {
  3: 'BAYMON^0A1B2CFFFE3D4E5F^EUI-64',
  4: 'NORTH WING',
  7: '20260301101500+0100',
  9: 'ORU^R01^ORU_R01',
  10: 'BM-000481',
  11: 'P',
  12: '2.6',
  15: 'AL',
  16: 'NE',
  21: 'IHE_PCD_001^IHE PCD^1.3.6.1.4.1.19376.1.6.1.1.1^ISO',
};

/** An MSH segment without its CR. */
export function headerOf(fields: HeaderFields = {}): string {
  const all: HeaderFields = { ...USUAL, ...fields };
  const last = Math.max(...Object.keys(all).map(Number));
  const values = Array.from({ length: last - 2 }, (_, index) => all[index + 3] ?? '');
  return `MSH|^~\\&|${values.join('|')}`;
}

export const PATIENT = 'PID|||WB-7710^^^NORTHMRN^MR||Winterbourne^Odile^^^^^L||19580412|F';
export const ORDER = 'OBR|1|||182777000^monitoring of patient^SCT|||20260301101400';
export const PULSE =
  'OBX|1|NM|149514^MDC_PULS_RATE^MDC|1.1.1.1|72|264864^MDC_DIM_BEAT_PER_MIN^MDC|||||R';

/** A message of these segments, each with its CR; text is written as UTF-8. */
export function messageOf(...segments: readonly string[]): Buffer {
  return Buffer.from(segments.map((segment) => `${segment}\r`).join(''), 'utf8');
}

/** The same with text of one byte a character. */
export function bytesOf(...segments: readonly string[]): Buffer {
  return Buffer.from(segments.map((segment) => `${segment}\r`).join(''), 'latin1');
}
