import type { Schema } from '../operations/openapi-document.js';
import { html, prose } from './html.js';
import type { Html } from './html.js';

/** Members of members are listed to this depth; the whole schema stands below the list. */
const MAX_DEPTH = 4;

interface Member {
  readonly path: string;
  readonly required: boolean;
  readonly schema: Schema;
}

function asSchema(value: unknown): Schema | null {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
    ? (value as Schema)
    : null;
}

function listOf(value: unknown): readonly unknown[] {
  return Array.isArray(value) ? value : [];
}

/** The members of an object and of the objects in it, by their path; a list is written `name[]`. */
function membersOf(schema: Schema, prefix = '', depth = 0): Member[] {
  const required = listOf(schema.required);
  return Object.entries(asSchema(schema.properties) ?? {}).flatMap(([name, value]) => {
    const member = asSchema(value) ?? {};
    const items = asSchema(member.items);
    const path = `${prefix}${name}${items === null ? '' : '[]'}`;
    const inner = depth < MAX_DEPTH ? membersOf(items ?? member, `${path}.`, depth + 1) : [];
    return [{ path, required: required.includes(name), schema: member }, ...inner];
  });
}

/** The place of a published schema on the page, and what it is called. */
function linkTo(reference: string): Html {
  const [, name = '', inner = ''] = /^#\/components\/schemas\/([^/]*)(.*)$/.exec(reference) ?? [];
  const shown = `${name}${inner.replace('/$defs/', ', ')}`;
  return html`<a href="#schema-${name}">${shown}</a>`;
}

function choices(values: readonly unknown[]): Html {
  const words = values.map((value, i) => {
    const code = html`<code>${JSON.stringify(value)}</code>`;
    return i === 0 ? code : html`, ${code}`;
  });
  return html`${words}`;
}

const BOUNDS: Readonly<Record<string, string>> = {
  ...{ minimum: 'from', maximum: 'to', exclusiveMinimum: 'above', exclusiveMaximum: 'below' },
  ...{ minLength: 'characters from', maxLength: 'characters up to' },
  ...{ minItems: 'entries from', maxItems: 'entries up to' },
};

function boundsOf(schema: Schema): string {
  const said = Object.entries(BOUNDS).flatMap(([key, words]) => {
    const bound = schema[key];
    const isBound = typeof bound === 'number' && Math.abs(bound) < Number.MAX_SAFE_INTEGER;
    return isBound ? [`${words} ${bound}`] : [];
  });
  return said.length === 0 ? '' : ` (${said.join(', ')})`;
}

/** What a value must be, in a few words. */
export function typeWords(schema: Schema): Html {
  if (typeof schema.$ref === 'string') return linkTo(schema.$ref);
  if (schema.const !== undefined) return choices([schema.const]);
  if (Array.isArray(schema.enum)) return choices(schema.enum);
  const alternatives = [...listOf(schema.oneOf), ...listOf(schema.anyOf)].map(asSchema);
  if (alternatives.length > 0) {
    const words = alternatives.map((one, i) =>
      i === 0 ? typeWords(one ?? {}) : html` or ${typeWords(one ?? {})}`,
    );
    return html`${words}`;
  }
  const items = asSchema(schema.items);
  if (items !== null) return html`list of ${typeWords(items)}${boundsOf(schema)}`;
  const types = [schema.type].flat().filter((one) => typeof one === 'string');
  const type = types.length === 0 ? 'any value' : types.join(' or ');
  const format = typeof schema.format === 'string' ? `, ${schema.format}` : '';
  return html`${type}${format}${boundsOf(schema)}`;
}

function memberRow({ path, required, schema }: Member): Html {
  const words = typeof schema.description === 'string' ? prose(schema.description) : null;
  return html`<tr>
    <td><code>${path}</code>${required ? html` <strong>required</strong>` : null}</td>
    <td>${typeWords(schema)}</td>
    <td>${words}</td>
  </tr>`;
}

/** JSON as it is written. */
export function json(value: unknown): Html {
  return html`<pre><code>${JSON.stringify(value, null, 2)}</code></pre>`;
}

/** A schema: what it is called if it is published, its members, and all of it. */
export function renderSchema(schema: Schema): Html {
  if (typeof schema.$ref === 'string') return html`<p>As ${linkTo(schema.$ref)}.</p>`;
  const members = membersOf(schema);
  const table = html`<table>
    <thead>
      <tr>
        <th scope="col">member</th>
        <th scope="col">value</th>
        <th scope="col">meaning</th>
      </tr>
    </thead>
    <tbody>
      ${members.map(memberRow)}
    </tbody>
  </table>`;
  return html`${members.length === 0 ? html`<p>${typeWords(schema)}</p>` : table}
    <details>
      <summary>The schema</summary>
      ${json(schema)}
    </details>`;
}
