/** The two drawings of the page. */
import { renderChart } from '../../pages/charts/render-chart.js';
import type { Drawing } from '../../pages/charts/render-chart.js';
import { writeSigned } from '../figures/write-figures.js';
import type { Drift, Figures } from './agreement-figures.js';
import type { Difference } from './compare-pairs.js';
import type { SignWords } from './agreement-words.js';

/** Dots of one chart: more cannot be told apart, and make the page long. */
const MOST_DOTS = 2_000;

const SIZE = { width: 1120, height: 430, marginLeft: 56, marginRight: 150, marginBottom: 50 };

/** Every n-th, so that the dots are spread over the whole period. */
export function thinOut<T>(all: readonly T[]): {
  readonly shown: readonly T[];
  readonly every: number;
} {
  const every = Math.max(1, Math.ceil(all.length / MOST_DOTS));
  return { shown: every === 1 ? all : all.filter((_, at) => at % every === 0), every };
}

type Plot = Parameters<Drawing>[0];
type Marks = NonNullable<ReturnType<Drawing>['marks']>;

/** Bias and limits as lines, each in the band of its interval and with its number at the right. */
function agreementMarks(plot: Plot, { agreement }: Figures): Marks {
  const { bias, limits, biasInterval, lowerInterval, upperInterval } = agreement;
  const lines = [
    { at: limits.high, band: upperInterval, label: 'upper limit', className: 'chart-second' },
    { at: bias, band: biasInterval, label: 'bias', className: 'chart-third' },
    { at: limits.low, band: lowerInterval, label: 'lower limit', className: 'chart-second' },
  ];
  return lines.flatMap(({ at, band, label, className }) => [
    plot.rect([band], {
      ...{ y1: 'low', y2: 'high', fill: 'currentColor', fillOpacity: 0.14, className },
    }),
    plot.ruleY([at], {
      className,
      strokeWidth: 1.5,
      strokeDasharray: label === 'bias' ? '' : '6 4',
    }),
    plot.text([at], {
      ...{ y: (value: number) => value, text: () => `${label} ${writeSigned(at)}`, className },
      ...{ frameAnchor: 'right', textAnchor: 'start', dx: 8, fontWeight: 600 },
    }),
  ]);
}

/** Difference against mean, as Bland and Altman draw it. */
export function drawAgreement(
  differences: readonly Difference[],
  figures: Figures | null,
  words: SignWords,
  description: string,
): Promise<string> {
  const { shown } = thinOut(differences);
  const { byDevice, byHand, unit, name } = words;
  return renderChart(
    { id: 'agreement-chart', title: `${name}: difference against mean`, description },
    (plot) => ({
      ...SIZE,
      x: { label: `mean of both (${unit})`, inset: 12, labelAnchor: 'center', labelOffset: 38 },
      y: { label: `${byDevice} less ${byHand} (${unit})`, grid: true, inset: 12 },
      marks: [
        plot.ruleY([0], { strokeOpacity: 0.5 }),
        ...(figures === null ? [] : agreementMarks(plot, figures)),
        plot.dot(
          shown.filter(({ isDoubted }) => !isDoubted),
          {
            ...{ x: 'mean', y: 'difference', r: 2.6, className: 'chart-first' },
            ...{ fill: 'currentColor', fillOpacity: 0.45, stroke: 'none' },
          },
        ),
        plot.dot(
          shown.filter(({ isDoubted }) => isDoubted),
          {
            ...{ x: 'mean', y: 'difference', symbol: 'times', r: 4, strokeWidth: 1.8 },
            className: 'chart-alarm',
          },
        ),
      ],
    }),
  );
}

/** The average that remembers, over time, and the single differences behind it. */
export function drawDrift(
  { differences, weighted, usual }: Drift,
  { unit, byDevice, byHand }: SignWords,
  description: string,
): Promise<string> {
  const points = differences.map(({ atMs, difference }, at) => ({
    at: new Date(atMs),
    difference,
    weighted: weighted.points[at]?.weighted,
    isOut: weighted.points[at]?.signal !== null,
  }));
  const limits = [
    { at: weighted.high, label: 'upper limit' },
    { at: usual.middle, label: 'usual' },
    { at: weighted.low, label: 'lower limit' },
  ];
  return renderChart({ id: 'drift-chart', title: 'Drift of the device', description }, (plot) => ({
    ...SIZE,
    x: { label: 'time', type: 'utc', labelAnchor: 'center', labelOffset: 38 },
    y: { label: `${byDevice} less ${byHand} (${unit})`, grid: true, inset: 10 },
    marks: [
      ...limits.flatMap(({ at, label }) => [
        plot.ruleY([at], {
          className: 'chart-second',
          strokeDasharray: label === 'usual' ? '' : '6 4',
        }),
        plot.text([at], {
          ...{ y: (value: number) => value, text: () => `${label} ${writeSigned(at)}` },
          ...{ frameAnchor: 'right', textAnchor: 'start', dx: 8, className: 'chart-second' },
        }),
      ]),
      plot.dot(thinOut(points).shown, {
        ...{ x: 'at', y: 'difference', r: 1.8, stroke: 'none' },
        ...{ fill: 'currentColor', fillOpacity: 0.35 },
      }),
      plot.line(points, { x: 'at', y: 'weighted', className: 'chart-first', strokeWidth: 2 }),
      plot.dot(thinOut(points.filter(({ isOut }) => isOut)).shown, {
        ...{ x: 'at', y: 'weighted', symbol: 'triangle', r: 3.4, className: 'chart-alarm' },
        ...{ fill: 'currentColor', stroke: 'none' },
      }),
    ],
  }));
}
