import type { LastDigits } from '../../../statistics/last-digits.js';
import { renderChart } from '../../pages/charts/render-chart.js';
import { writeShare } from '../figures/write-figures.js';

const SIZE = { width: 540, height: 280, marginLeft: 52, marginBottom: 50 };

/** Rates beyond these are drawn at the ends. */
const LEAST_RATE = 6;
const MOST_RATE = 36;

/** How often each last digit was written, and the line at which all would stand. */
export function drawDigits(
  { counts, counted, offScale, expectedShare, df }: LastDigits,
  title: string,
): Promise<string> {
  const all = counted + offScale;
  const digits = counts.map((count, digit) => ({ digit: String(digit), share: count / all }));
  const told = digits.map(({ digit, share }) => `${digit}: ${writeShare(share)}`).join(', ');
  return renderChart(
    {
      id: 'digits-chart',
      title: `Last digits: ${title}`,
      description: `Of ${all} numbers ended in ${told}. Expected: ${writeShare(expectedShare)} each of ${df + 1} digits.`,
    },
    (plot) => ({
      ...SIZE,
      x: { label: 'last digit', labelAnchor: 'center', labelOffset: 38, type: 'band' },
      y: { label: 'share', percent: true, grid: true, zero: true },
      marks: [
        plot.barY(digits, {
          x: 'digit',
          y: 'share',
          fill: 'currentColor',
          className: 'chart-first',
        }),
        plot.ruleY([expectedShare], { className: 'chart-second', strokeDasharray: '6 4' }),
        plot.ruleY([0]),
      ],
    }),
  );
}

/** How often each respiratory rate was written. */
export function drawBreaths(rates: readonly number[]): Promise<string> {
  const counts = new Map<number, number>();
  for (const rate of rates) {
    const shown = Math.min(MOST_RATE, Math.max(LEAST_RATE, Math.round(rate)));
    counts.set(shown, (counts.get(shown) ?? 0) + 1);
  }
  const bars = [...counts].map(([rate, count]) => ({ rate, count }));
  const told = [...counts]
    .sort(([, a], [, b]) => b - a)
    .slice(0, 5)
    .map(([rate, count]) => `${rate} a minute ${count} times`);
  return renderChart(
    {
      id: 'breaths-chart',
      title: 'Respiratory rates as written',
      description: `Of ${rates.length} rates the commonest: ${told.join(', ')}.`,
    },
    (plot) => ({
      ...SIZE,
      x: {
        label: 'breaths a minute',
        labelOffset: 38,
        labelAnchor: 'center',
        domain: [LEAST_RATE - 1, MOST_RATE + 1],
      },
      y: { label: 'times', grid: true, zero: true },
      marks: [
        plot.rectY(bars, {
          ...{ x1: ({ rate }: { rate: number }) => rate - 0.4 },
          ...{ x2: ({ rate }: { rate: number }) => rate + 0.4 },
          ...{ y: 'count', fill: 'currentColor', className: 'chart-first' },
        }),
        plot.ruleY([0]),
      ],
    }),
  );
}
