import { createHash } from 'node:crypto';
import { html, prose } from '../../../src/serve/docs/html.js';
import { renderPage } from '../../../src/serve/docs/page.js';
import type { OpenApiDocument } from '../../../src/serve/operations/openapi-document.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway, Told } from '../../setup/gateway.js';

let gateway: TestGateway;
let document: OpenApiDocument;
let page: Told;

beforeAll(async () => {
  gateway = await openTestGateway();
  ({ body: document } = await gateway.ask<OpenApiDocument>('/openapi.json'));
  page = await gateway.ask('/docs');
});
afterAll(() => gateway.close());

/** A text as it stands in the page. */
function shown(text: string): string {
  return html`${text}`.text;
}

function all(pattern: RegExp, text = page.text): string[] {
  return [...text.matchAll(pattern)].map(([, found = '']) => found);
}

describe('/docs', () => {
  it('is a page for everybody', () => {
    expect(page.status).toBe(200);
    expect(page.headers.get('content-type')).toBe('text/html; charset=utf-8');
    expect(page.text).toMatch(/^<!doctype html>/i);
  });

  // Content Security Policy Level 3, §6 and §2.3.1 (hashes).
  it('may do nothing but look as its one style sheet says, to the letter', () => {
    const [style, ...more] = all(/<style>([\s\S]*?)<\/style>/g);
    expect(more).toEqual([]);
    const hash = createHash('sha256')
      .update(style ?? '')
      .digest('base64');
    const policy = (page.headers.get('content-security-policy') ?? '').split('; ');
    expect(policy.sort()).toEqual([
      "base-uri 'none'",
      "default-src 'none'",
      "form-action 'none'",
      "frame-ancestors 'none'",
      `style-src 'sha256-${hash}'`,
    ]);
    expect(page.text).not.toMatch(/<script|<link|<img|<iframe|\sstyle=|\son[a-z]+=|@import|url\(/i);
  });

  it('shows every operation with its parameters, answers and scopes', () => {
    const articles = new Map(
      page.text
        .split('<article ')
        .map((text) => [/aria-labelledby="([^"]+)"/.exec(text)?.[1], text]),
    );
    const operations = Object.entries(document.paths).flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({ path, method, operation })),
    );
    expect(operations.length).toBeGreaterThan(30);
    for (const { path, method, operation } of operations) {
      const article = articles.get(operation.operationId) ?? '';
      const expected = [
        `<code>${shown(path)}</code>`,
        method.toUpperCase(),
        prose(operation.summary).text,
        ...(operation.parameters ?? []).map(({ name }) => `<code>${shown(name)}</code>`),
        ...Object.keys(operation.responses).map((status) => `<td>${status}</td>`),
        ...Object.keys(operation.requestBody?.content ?? {}).map(
          (type) => `<code>${shown(type)}</code>`,
        ),
        ...operation.security.flatMap((one) => Object.values(one).flat()).map(shown),
      ];
      for (const text of expected)
        expect([path, article.includes(text), text]).toEqual([path, true, text]);
    }
  });

  it('shows every example as JSON', () => {
    const examples = Object.values(document.paths)
      .flatMap((methods) => Object.values(methods))
      .flatMap(({ requestBody }) => Object.values(requestBody?.content ?? {}))
      .flatMap(({ example, examples = {} }) => [
        ...(example === undefined ? [] : [example]),
        ...Object.values(examples).map(({ value }) => value),
      ]);
    expect(examples.length).toBeGreaterThan(4);
    for (const example of examples) {
      expect(page.text).toContain(shown(JSON.stringify(example, null, 2)));
    }
  });

  it('shows every schema, and what each scope allows', () => {
    for (const name of Object.keys(document.components.schemas)) {
      expect(page.text).toContain(`id="schema-${name}"`);
    }
    const { flows } = document.components.securitySchemes.oauth as {
      flows: { clientCredentials: { scopes: Record<string, string> } };
    };
    for (const [scope, meaning] of Object.entries(flows.clientCredentials.scopes)) {
      expect([scope, meaning.length > 10]).toEqual([scope, true]);
      expect(page.text).toContain(`<code>${shown(scope)}</code>`);
      expect(page.text).toContain(shown(meaning));
    }
  });

  it('has links that lead somewhere, and places that are named once', () => {
    const ids = all(/\sid="([^"]*)"/g);
    expect(new Set(ids).size).toBe(ids.length);
    for (const id of ids) expect(id).toMatch(/^[\w-]+$/);
    const links = all(/href="([^"]*)"/g);
    const inside = links.filter((link) => link.startsWith('#')).map((link) => link.slice(1));
    expect(inside.length).toBeGreaterThan(40);
    for (const target of inside) expect(ids).toContain(target);
    const outside = links.filter((link) => !link.startsWith('#'));
    expect(outside).toEqual([`${gateway.url}/openapi.json`]);
  });

  // WCAG 2.2: 1.3.1 (structure), 2.4.1 (skip), 3.1.1 (language).
  it('is in order for who hears it or goes by keys', () => {
    expect(page.text).toContain('<html lang="en">');
    expect(page.text.indexOf('class="skip"')).toBeLessThan(page.text.indexOf('<header'));
    const levels = all(/<h([1-6])[\s>]/g).map(Number);
    expect(levels.filter((level) => level === 1)).toHaveLength(1);
    levels.forEach((level, i) => {
      expect(level - (levels[i - 1] ?? 0)).toBeLessThanOrEqual(1);
    });
    expect(all(/<(main|nav)\b/g).sort()).toEqual(['main', 'nav']);
    expect(page.text).toContain('prefers-color-scheme: dark');
  });

  it('closes what it opens', () => {
    const open: string[] = [];
    for (const [, slash, tag = ''] of page.text.matchAll(/<(\/?)([a-z][a-z0-9]*)\b[^>]*>/g)) {
      if (['meta', 'br', 'link'].includes(tag)) continue;
      if (slash === '') open.push(tag);
      else expect(open.pop()).toBe(tag);
    }
    expect(open).toEqual([]);
  });
});

describe('the page of a document', () => {
  /** The document with a tag in every text of it. */
  function spoiled(value: unknown): unknown {
    if (typeof value === 'string') return value.startsWith('#/') ? value : `${value}<x a="b">'&`;
    if (Array.isArray(value)) return value.map(spoiled);
    if (typeof value !== 'object' || value === null) return value;
    return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, spoiled(one)]));
  }

  it('has nothing in it that a text of the document has made', () => {
    const text = renderPage(spoiled(document) as OpenApiDocument);
    expect(text).toContain('&lt;x a=&quot;b&quot;&gt;&#39;&amp;');
    expect(text).not.toContain('<x');
    expect(text).not.toContain('a="b"');
  });
});

describe('a sentence', () => {
  it.each([
    ['say `a < b` now', 'say <code>a &lt; b</code> now'],
    ['one ` alone', 'one ` alone'],
    ['`x`', '<code>x</code>'],
    ['', ''],
  ])('%j: words between backticks are code', (sentence, expected) => {
    expect(prose(sentence).text).toBe(expected);
  });
});
