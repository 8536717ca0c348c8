/** What of the general statistics library serves as second opinion here. It brings no types of its own. */
declare module 'jstat' {
  interface Distribution {
    cdf(x: number, ...parameters: number[]): number;
    inv(share: number, ...parameters: number[]): number;
  }
  export const jStat: {
    readonly studentt: Distribution;
    readonly chisquare: Distribution;
    readonly normal: Distribution;
    stdev(values: readonly number[], sample: boolean): number;
    quantiles(
      values: readonly number[],
      shares: readonly number[],
      alpha: number,
      beta: number,
    ): number[];
  };
}
