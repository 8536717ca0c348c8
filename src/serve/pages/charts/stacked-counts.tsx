/** Counts over time, stacked by what is counted: a chart, its legend in words, and the same as a table. */
import type { ComponentChildren } from 'preact';
import { Table } from '../parts/table.js';
import { renderChart } from './render-chart.js';

/** How often something was counted in one step of time. */
export interface StepCount {
  readonly fromMs: number;
  readonly what: string;
  readonly count: number;
}

export interface StackedFacts {
  /** Unique on its page. */
  readonly id: string;
  readonly title: string;
  /** What is counted, as in `rejected readings`. */
  readonly things: string;
  readonly counts: readonly StepCount[];
  /** Begins of all steps, oldest first, those without a count among them. */
  readonly steps: readonly number[];
  /** A step as people write it, short enough for an axis. */
  readonly stepText: (fromMs: number) => string;
  /** A thing as people read it; its own name when absent. */
  readonly whatText?: (what: string) => string;
}

/** Drawn apart from each other; the rest is summed up. */
const CLASSES = [
  'chart-first',
  'chart-second',
  'chart-third',
  'chart-fourth',
  'chart-fifth',
] as const;
const REST = 'all others';
const MAX_TICKS = 12;

interface Layer {
  readonly what: string;
  readonly className: string;
  readonly total: number;
  readonly byStep: ReadonlyMap<number, number>;
}

function sum(numbers: Iterable<number>): number {
  let all = 0;
  for (const one of numbers) all += one;
  return all;
}

function layersOf(counts: readonly StepCount[]): Layer[] {
  const byWhat = new Map<string, Map<number, number>>();
  const add = (what: string, { fromMs, count }: StepCount): void => {
    const steps = byWhat.get(what) ?? new Map<number, number>();
    steps.set(fromMs, (steps.get(fromMs) ?? 0) + count);
    byWhat.set(what, steps);
  };
  for (const one of counts) add(one.what, one);
  const ranked = [...byWhat].sort(([, a], [, b]) => sum(b.values()) - sum(a.values()));
  // One that would be alone among "all others" is shown by its own name.
  const shown = ranked.length > CLASSES.length ? CLASSES.length - 1 : ranked.length;
  const apart = new Set(ranked.slice(0, shown).map(([what]) => what));
  if (ranked.length > shown) {
    byWhat.clear();
    for (const one of counts) add(apart.has(one.what) ? one.what : REST, one);
  }
  const order = [...apart, ...(ranked.length > shown ? [REST] : [])];
  return order.map((what, rank) => {
    const byStep = byWhat.get(what) ?? new Map<number, number>();
    return { what, className: CLASSES[rank] ?? 'chart-fifth', total: sum(byStep.values()), byStep };
  });
}

interface Piece {
  readonly step: string;
  readonly low: number;
  readonly high: number;
}

/** Each layer's pieces stand on those of the layers before. */
function stack(layers: readonly Layer[], steps: readonly number[], text: (ms: number) => string) {
  const heights = new Map<number, number>();
  return layers.map(({ className, byStep }) => {
    const pieces: Piece[] = steps.flatMap((step) => {
      const count = byStep.get(step) ?? 0;
      if (count === 0) return [];
      const low = heights.get(step) ?? 0;
      heights.set(step, low + count);
      return [{ step: text(step), low, high: low + count }];
    });
    return { className, pieces };
  });
}

async function draw(facts: StackedFacts, layers: readonly Layer[]): Promise<string> {
  const { id, title, things, steps, stepText } = facts;
  const labels = steps.map(stepText);
  const every = Math.ceil(labels.length / MAX_TICKS);
  const stacked = stack(layers, steps, stepText);
  const all = sum(layers.map(({ total }) => total));
  const description = `${all} ${things}, most of them: ${layers.map(({ what, total }) => `${wordOf(facts, what)} ${total}`).join(', ')}. The table below has every number.`;
  return renderChart({ id, title, description }, (plot) => ({
    width: 960,
    height: 260,
    marginLeft: 50,
    x: {
      type: 'band',
      domain: labels,
      ticks: labels.filter((_label, index) => index % every === 0),
      label: null,
    },
    y: {
      label: things,
      grid: true,
      tickFormat: (count: number) => (Number.isInteger(count) ? String(count) : ''),
    },
    marks: [
      plot.ruleY([0]),
      ...stacked.map(({ className, pieces }) =>
        plot.barY(pieces, {
          ...{ x: 'step', y1: 'low', y2: 'high', className, fill: 'currentColor' },
          ...{ stroke: 'var(--chart-paper, Canvas)', strokeWidth: 1 },
        }),
      ),
    ],
  }));
}

function wordOf({ whatText }: StackedFacts, what: string): string {
  return what === REST ? REST : (whatText?.(what) ?? what);
}

/** The chart with its legend, and the table that says the same in numbers. */
export async function stackedCounts(facts: StackedFacts): Promise<ComponentChildren> {
  const { counts, steps, stepText, title, things } = facts;
  if (counts.length === 0) return <p class="empty">No {things} in this time.</p>;
  const layers = layersOf(counts);
  const svg = await draw(facts, layers);
  const heads = layers.map((layer) => ({
    head: wordOf(facts, layer.what),
    numeric: true as const,
    cell: (step: number) => layer.byStep.get(step) ?? 0,
  }));
  const total = {
    head: 'all',
    numeric: true as const,
    cell: (step: number) => sum(layers.map(({ byStep }) => byStep.get(step) ?? 0)),
  };
  return (
    <figure>
      <figcaption>{title}</figcaption>
      {/* Drawn by ourselves from numbers; every text in it is escaped by the drawing. */}
      <div class="chart-box" dangerouslySetInnerHTML={{ __html: svg }} />
      <ul class="legend">
        {layers.map(({ what, className, total: times }) => (
          <li key={what}>
            <span class={`swatch ${className}`} aria-hidden="true" /> {wordOf(facts, what)}: {times}
          </li>
        ))}
      </ul>
      <details>
        <summary>The numbers as a table</summary>
        <Table
          caption={title}
          columns={[
            { head: 'from', rowHead: true, cell: (step: number) => stepText(step) },
            ...heads,
            total,
          ]}
          rows={[...steps].reverse()}
          keyOf={String}
          empty=""
        />
      </details>
    </figure>
  );
}
