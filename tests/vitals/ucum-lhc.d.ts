/** The part of the unit library that the tests use as a second opinion; it ships no types. */
declare module '@lhncbc/ucum-lhc' {
  interface Conversion {
    readonly status: 'succeeded' | 'failed' | 'error';
    readonly toVal: number | null;
  }
  interface Units {
    convertUnitTo(from: string, value: number, to: string): Conversion;
  }
  export const UcumLhcUtils: { getInstance(): Units };
}
