interface ChartFacts {
  /** From `renderChart`. */
  readonly svg: string;
  /** How to read it. */
  readonly caption: string;
}

/** A drawn chart with its caption. Texts in it were escaped when it was drawn. */
export function ChartFigure({ svg, caption }: ChartFacts) {
  return (
    <figure class="chart-figure">
      <div dangerouslySetInnerHTML={{ __html: svg }} />
      <figcaption>{caption}</figcaption>
    </figure>
  );
}
