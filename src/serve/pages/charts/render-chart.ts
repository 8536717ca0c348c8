/** Draws a chart at the server, as SVG text that holds under a strict content security policy. */
import type * as Plot from '@observablehq/plot';

export type PlotLibrary = typeof Plot;

export interface ChartText {
  /** Unique on its page: title and description are named by it. */
  readonly id: string;
  readonly title: string;
  /** What a person who cannot see the chart should know of it. */
  readonly description: string;
}

/** What is drawn. Legend and caption belong into the page, as text. */
export type Drawing = (
  plot: PlotLibrary,
) => Omit<Plot.PlotOptions, 'document' | 'className' | 'style' | 'title' | 'subtitle' | 'caption'>;

const SVG = 'http://www.w3.org/2000/svg';
const PLACES = ['d', 'transform', 'x', 'y', 'x1', 'x2', 'y1', 'y2', 'cx', 'cy', 'width', 'height'];

let loaded: Promise<{ plot: PlotLibrary; document: Document }> | undefined;

/** Loaded when the first chart is asked for: a gateway that draws none is spared 35 MB and 0.2 s. */
async function loadLibraries(): Promise<{ plot: PlotLibrary; document: Document }> {
  const [plot, { parseHTML }] = await Promise.all([
    import('@observablehq/plot'),
    import('linkedom'),
  ]);
  const { document } = parseHTML('<!doctype html><html></html>');
  return { plot, document };
}

/** A hundredth of a pixel is finer than any screen; more digits only make pages longer. */
function shortenNumbers(text: string): string {
  return text.replace(/-?\d+\.\d{3,}/g, (number) => String(Number(Number(number).toFixed(2))));
}

/** Looks come from the style sheet by class (`charts.css`); nothing inline is left. */
function clean(svg: Element): void {
  for (const style of svg.querySelectorAll('style')) style.remove();
  for (const element of [svg, ...svg.querySelectorAll('*')]) {
    for (const name of ['style', 'aria-label', 'aria-hidden']) element.removeAttribute(name);
    for (const name of PLACES) {
      const text = element.getAttribute(name);
      if (text !== null) element.setAttribute(name, shortenNumbers(text));
    }
  }
}

/**
 * A chart as SVG text, ready to stand in a page. Colours come from the classes of the marks: marks draw in
 * `currentColor`, and `charts.css` gives each class its colour for light, dark and print.
 *
 * Fails if the drawing asks for a legend: that would be HTML of the library's own, with its own styles.
 */
export async function renderChart(
  { id, title, description }: ChartText,
  draw: Drawing,
): Promise<string> {
  loaded ??= loadLibraries();
  const { plot, document } = await loaded;
  const svg: Element = plot.plot({ ...draw(plot), document });
  if (svg.tagName.toLowerCase() !== 'svg') {
    throw new Error(`The chart "${id}" is not one drawing; its legend belongs into the page.`);
  }
  clean(svg);
  const named = (name: 'title' | 'desc', text: string): Element => {
    const element = document.createElementNS(SVG, name);
    element.setAttribute('id', `${id}-${name}`);
    element.textContent = text;
    return element;
  };
  svg.prepend(named('title', title), named('desc', description));
  svg.setAttribute('class', 'chart');
  svg.setAttribute('role', 'img');
  svg.setAttribute('aria-labelledby', `${id}-title`);
  svg.setAttribute('aria-describedby', `${id}-desc`);
  return svg.outerHTML;
}
