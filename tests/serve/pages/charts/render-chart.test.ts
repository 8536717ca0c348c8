import { renderChart } from '../../../../src/serve/pages/charts/render-chart.js';
import type { Drawing } from '../../../../src/serve/pages/charts/render-chart.js';

const text = { id: 'pairs', title: 'Pairs', description: 'Two pairs, far apart' };
const dots: Drawing = (plot) => ({
  width: 600,
  y: { grid: true, label: 'Difference' },
  marks: [
    plot.dot(
      [
        [1.23456789, 2],
        [3, 5],
      ],
      { className: 'chart-first', title: () => '<script>alert(1)</script>&"' },
    ),
    plot.text(['</svg><img src=x onerror=alert(1)>'], { frameAnchor: 'top-right' }),
  ],
});

it('gives one SVG element that is named and described', async () => {
  const svg = await renderChart(text, dots);
  expect(svg).toMatch(/^<svg /);
  expect(svg.match(/<\/svg>/g)).toHaveLength(1);
  expect(svg).toMatch(/role="img"/);
  expect(svg).toMatch(/aria-labelledby="pairs-title"/);
  expect(svg).toMatch(/aria-describedby="pairs-desc"/);
  expect(svg).toContain('<title id="pairs-title">Pairs</title>');
  expect(svg).toContain('<desc id="pairs-desc">Two pairs, far apart</desc>');
  expect(svg).toContain('class="chart-first"');
});

it('has no inline style and no script, so that a strict policy holds', async () => {
  const svg = await renderChart(text, dots);
  expect(svg).not.toMatch(/<style|style=|<script|javascript:| on\w+="/);
});

it('writes markup in texts as text', async () => {
  const svg = await renderChart({ ...text, title: 'A <b> & "c"' }, dots);
  expect(svg).toContain('A &lt;b&gt; &amp; "c"</title>');
  expect(svg).toContain('&lt;script&gt;alert(1)&lt;/script&gt;');
  expect(svg).toContain('&lt;/svg&gt;&lt;img');
});

it('says so when a drawing asks for a legend', async () => {
  const legend: Drawing = (plot) => ({
    color: { legend: true },
    marks: [plot.dot([{ a: 1, b: 'x' }], { x: 'a', stroke: 'b' })],
  });
  await expect(renderChart(text, legend)).rejects.toThrow('its legend belongs into the page');
});
