import { readFileSync } from 'node:fs';

/** Files of `schemas/`, without `.schema.json`. */
const NAMES = [
  'reading',
  'vital-sign-set',
  'decision',
  'own-decision',
  'answer',
  'problem',
  'site-rules',
  'rules',
  'edition-proposal',
  'edition-decision',
  'edition',
  'trial-request',
  'trial',
  'reference-check',
  'reference-result',
  'review-reading',
  'review-summary',
  'source-mapping',
  'mapping-proposal',
] as const;
export type SchemaName = (typeof NAMES)[number];

/** A JSON Schema (2020-12) as published. */
export interface PublishedSchema extends Readonly<Record<string, unknown>> {
  readonly $id: string;
}

// Two levels up is the root of the package from `src/` and from `dist/` alike.
function read(name: SchemaName): PublishedSchema {
  const url = new URL(`../../schemas/${name}.schema.json`, import.meta.url);
  return JSON.parse(readFileSync(url, 'utf8')) as PublishedSchema;
}

/** The published contract by name of its file; read once, when the process starts. */
export const PUBLISHED_SCHEMAS = Object.fromEntries(
  NAMES.map((name) => [name, read(name)]),
) as Readonly<Record<SchemaName, PublishedSchema>>;
