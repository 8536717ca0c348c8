/** The patient's recent readings of a sign as a picture, each way of measuring with its own shape and colour. */
import { CATALOGUE } from '../../../vitals/catalogue.js';
import type { ReadingVersion } from '../../../vitals/shapes.js';
import { renderChart } from '../../pages/charts/render-chart.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { readingValue } from '../../pages/parts/words.js';

const CLASSES = ['chart-first', 'chart-second', 'chart-third', 'chart-fourth', 'chart-fifth'];
const SYMBOLS = ['circle', 'square', 'triangle', 'diamond', 'star'] as const;

interface Point {
  readonly at: Date;
  readonly value: number;
}

/** One way of measuring: how it is drawn, and what the legend says. */
export interface Series {
  readonly name: string;
  readonly className: string;
  readonly symbol: (typeof SYMBOLS)[number];
  readonly points: readonly Point[];
}

function pointsOf({ takenAt, values }: ReadingVersion): Point[] {
  const at = new Date(takenAt.epochMs);
  const { value, systolic, diastolic } = values;
  return [value, systolic, diastolic].flatMap((text) =>
    text === undefined ? [] : [{ at, value: Number(text) }],
  );
}

/** Methods in the order in which they first occur; more than five share the last look. */
export function seriesOf(history: readonly ReadingVersion[]): Series[] {
  const byName = new Map<string, ReadingVersion[]>();
  for (const one of history) {
    const name = measuredBy(one);
    byName.set(name, [...(byName.get(name) ?? []), one]);
  }
  return [...byName].map(([name, readings], index) => {
    const look = Math.min(index, CLASSES.length - 1);
    return {
      name,
      className: CLASSES[look] ?? 'chart-first',
      symbol: SYMBOLS[look] ?? 'circle',
      points: readings.flatMap(pointsOf),
    };
  });
}

/** How and where: by this readings are told apart. */
export function measuredBy({ method, site }: ReadingVersion): string {
  const words = site === null ? [method] : [method, site];
  return words.map((word) => wordText(word ?? 'method not told')).join(', ');
}

/** SVG text; null: there are not two readings that can be drawn. */
export async function drawHistory(
  reading: ReadingVersion,
  history: readonly ReadingVersion[],
): Promise<string | null> {
  const series = seriesOf(history).filter(({ points }) => points.length > 0);
  if (series.flatMap(({ points }) => points).length < 2) return null;
  const own = pointsOf(reading);
  const name = signText(reading.vital);
  return renderChart(
    {
      id: 'history',
      title: `${name} of this patient in the days about this reading`,
      description: `${history.length} readings by ${series.length} ways of measuring; this one is ${readingValue(reading)}. The table below has them all.`,
    },
    (plot) => ({
      width: 720,
      height: 260,
      marginLeft: 48,
      x: { type: 'time', label: null },
      y: { label: CATALOGUE[reading.vital].unitText, grid: true, nice: true },
      marks: [
        plot.ruleX(own.slice(0, 1), { x: 'at', strokeDasharray: '3,3', className: 'chart-alarm' }),
        ...series.map(({ points, symbol, className }) =>
          plot.dot(points, { x: 'at', y: 'value', symbol, r: 4, fill: 'currentColor', className }),
        ),
        plot.dot(own, { x: 'at', y: 'value', r: 8, strokeWidth: 2, className: 'chart-alarm' }),
      ],
    }),
  );
}
