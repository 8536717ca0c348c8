import type {
  Answer,
  MediaType,
  MediaTypes,
  Operation,
  Parameter,
} from '../operations/openapi-document.js';
import { html, prose } from './html.js';
import type { Html } from './html.js';
import { json, renderSchema, typeWords } from './schema.js';

/** Who may call: each list of scopes is enough; the schemes differ only in who gave the token. */
function renderSecurity({ security }: Operation): Html {
  if (security.length === 0) return html`<p class="quiet">No token is needed.</p>`;
  const lists = security.map((one) => Object.values(one).flat().join(' and '));
  const alternatives = [...new Set(lists)].map((list, i) =>
    i === 0 ? html`<code>${list}</code>` : html` or <code>${list}</code>`,
  );
  return html`<p class="quiet">Needs a token with ${alternatives}.</p>`;
}

function parameterRow({
  name,
  in: place,
  description,
  required,
  schema,
  example,
}: Parameter): Html {
  const shown =
    example === undefined
      ? null
      : html` Such as
          <code>${typeof example === 'string' ? example : JSON.stringify(example)}</code>.`;
  return html`<tr>
    <td><code>${name}</code>${required ? html` <strong>required</strong>` : null}</td>
    <td>${place}</td>
    <td>${typeWords(schema)}</td>
    <td>${prose(description)}${shown}</td>
  </tr>`;
}

function renderParameters(parameters: readonly Parameter[]): Html {
  return html`<h4>Parameters</h4>
    <table>
      <thead>
        <tr>
          <th scope="col">name</th>
          <th scope="col">in</th>
          <th scope="col">value</th>
          <th scope="col">meaning</th>
        </tr>
      </thead>
      <tbody>
        ${parameters.map(parameterRow)}
      </tbody>
    </table>`;
}

function examplesOf({ example, examples = {} }: MediaType): Html[] {
  const named = Object.entries(examples).map(
    ([name, { value }]) =>
      html`<p class="quiet">Example, ${name}:</p>
        ${json(value)}`,
  );
  return example === undefined
    ? named
    : [
        html`<p class="quiet">Example:</p>
          ${json(example)}`,
        ...named,
      ];
}

function renderMedia(content: MediaTypes): Html[] {
  return Object.entries(content).map(
    ([type, media]) =>
      html`<p><code>${type}</code></p>
        ${examplesOf(media)}${renderSchema(media.schema)}`,
  );
}

function renderBody({ requestBody }: Operation): Html | null {
  if (requestBody === undefined) return null;
  const { description, required, content } = requestBody;
  return html`<h4>Body${required ? '' : ' (may be left out)'}</h4>
    ${description === undefined ? null : html`<p>${prose(description)}</p>`}${renderMedia(content)}`;
}

function answerRow([status, { description, content = {}, headers = {} }]: [string, Answer]): Html {
  const told = Object.entries(headers).map(
    ([name, header]) => html`<br /><code>${name}</code>: ${prose(header.description)}`,
  );
  const types = Object.keys(content).map((type) => html`<code>${type}</code> `);
  return html`<tr>
    <td>${status}</td>
    <td>${prose(description)}${told}</td>
    <td>${types}</td>
  </tr>`;
}

/** The answers at a glance; the forms of those that are no errors below. */
function renderAnswers({ responses }: Operation): Html {
  const entries = Object.entries(responses);
  const forms = entries.flatMap(([status, { content = {} }]) =>
    Number(status) < 300 && Object.keys(content).length > 0
      ? [
          html`<details>
            <summary>The form of ${status}</summary>
            ${renderMedia(content)}
          </details>`,
        ]
      : [],
  );
  return html`<h4>Answers</h4>
    <table>
      <thead>
        <tr>
          <th scope="col">status</th>
          <th scope="col">meaning</th>
          <th scope="col">form</th>
        </tr>
      </thead>
      <tbody>
        ${entries.map(answerRow)}
      </tbody>
    </table>
    ${forms}`;
}

/** One operation: who may call it, with what, and what is answered. */
export function renderOperation(method: string, path: string, operation: Operation): Html {
  const { operationId, summary, description, parameters = [] } = operation;
  return html`<article aria-labelledby="${operationId}">
    <h3 id="${operationId}">
      <span class="badge ${method}">${method.toUpperCase()}</span> <code>${path}</code>
    </h3>
    <p>${prose(summary)}</p>
    ${description === undefined ? null : html`<p>${prose(description)}</p>`}
    ${renderSecurity(operation)} ${parameters.length === 0 ? null : renderParameters(parameters)}
    ${renderBody(operation)} ${renderAnswers(operation)}
  </article>`;
}
