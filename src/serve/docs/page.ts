/** The interface as a page for people, made from the OpenAPI document: it shows what the document says. */
import type { OpenApiDocument, Operation } from '../operations/openapi-document.js';
import { html, prose } from './html.js';
import type { Html } from './html.js';
import { renderOperation } from './operation.js';
import { renderSchema } from './schema.js';
import { STYLE_ELEMENT } from './style.js';

interface Entry {
  readonly method: string;
  readonly path: string;
  readonly operation: Operation;
}

interface Chapter {
  readonly id: string;
  readonly name: string;
  readonly description: string;
  readonly entries: readonly Entry[];
}

/** The operations by the area that they belong to, in the order of the document. */
function chaptersOf({ tags, paths }: OpenApiDocument): Chapter[] {
  const entries = Object.entries(paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]): Entry => ({ method, path, operation })),
  );
  return tags.map(({ name, description }) => ({
    id: `area-${name.replace(/\W+/g, '-')}`,
    ...{ name, description },
    entries: entries.filter(({ operation }) => operation.tags.includes(name)),
  }));
}

function chapterLinks({ id, name, entries }: Chapter): Html {
  const links = entries.map(
    ({ method, path, operation }) =>
      html`<li><a href="#${operation.operationId}">${method.toUpperCase()} ${path}</a></li>`,
  );
  return html`<li>
    <details>
      <summary>${name}</summary>
      <ul>
        <li><a href="#${id}">About ${name}</a></li>
        ${links}
      </ul>
    </details>
  </li>`;
}

function renderNavigation(chapters: readonly Chapter[]): Html {
  return html`<nav aria-label="Interface">
    <ul>
      ${chapters.map(chapterLinks)}
      <li><a href="#scopes">Tokens and scopes</a></li>
      <li><a href="#schemas">Schemas</a></li>
    </ul>
  </nav>`;
}

function renderChapter({ id, name, description, entries }: Chapter): Html {
  const operations = entries.map(({ method, path, operation }) =>
    renderOperation(method, path, operation),
  );
  return html`<section aria-labelledby="${id}">
    <h2 id="${id}">${name}</h2>
    <p>${prose(description)}</p>
    ${operations}
  </section>`;
}

function scopesIn(scheme: Readonly<Record<string, unknown>>): [string, string][] {
  const { clientCredentials } = (scheme.flows ?? {}) as {
    clientCredentials?: { scopes?: Readonly<Record<string, string>> };
  };
  return Object.entries(clientCredentials?.scopes ?? {});
}

/** How tokens are got, and what each scope allows. */
function renderSchemes({ components }: OpenApiDocument): Html {
  const schemes = Object.values(components.securitySchemes);
  const words = schemes.map(({ description }) => html`<p>${prose(String(description))}</p>`);
  const rows = schemes.flatMap(scopesIn).map(
    ([scope, meaning]) =>
      html`<tr>
        <td><code>${scope}</code></td>
        <td>${meaning}</td>
      </tr>`,
  );
  return html`<section aria-labelledby="scopes">
    <h2 id="scopes">Tokens and scopes</h2>
    ${words}
    <table>
      <thead>
        <tr>
          <th scope="col">scope</th>
          <th scope="col">allows</th>
        </tr>
      </thead>
      <tbody>
        ${rows}
      </tbody>
    </table>
  </section>`;
}

function renderSchemas({ components }: OpenApiDocument): Html {
  const articles = Object.entries(components.schemas).map(([name, schema]) => {
    const words = typeof schema.description === 'string' ? prose(schema.description) : null;
    return html`<article aria-labelledby="schema-${name}">
      <h3 id="schema-${name}"><code>${name}</code></h3>
      <p>${words}</p>
      ${renderSchema(schema)}
    </article>`;
  });
  return html`<section aria-labelledby="schemas">
    <h2 id="schemas">Schemas</h2>
    ${articles}
  </section>`;
}

/** The page. It needs no script and nothing from elsewhere. */
export function renderPage(document: OpenApiDocument): string {
  const { info, servers } = document;
  const chapters = chaptersOf(document);
  const base = servers[0]?.url ?? '';
  return html`<!doctype html>
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <title>${info.title} ${info.version}: interface</title>
        ${STYLE_ELEMENT}
      </head>
      <body>
        <a class="skip" href="#content">To the content</a>
        <header>
          <h1>${info.title}</h1>
          <p>${prose(info.description)} Version ${info.version}, at <code>${base}</code>.</p>
          <p class="quiet">
            This page is made from <a href="${base}/openapi.json">openapi.json</a>. Not for
            monitoring or alarms.
          </p>
        </header>
        <div class="page">
          ${renderNavigation(chapters)}
          <main id="content">
            ${chapters.map(renderChapter)} ${renderSchemes(document)} ${renderSchemas(document)}
          </main>
        </div>
      </body>
    </html> `.text;
}
