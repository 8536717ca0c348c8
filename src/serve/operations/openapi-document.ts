/** The parts of an OpenAPI 3.1 document that ours has. */
type Json = Readonly<Record<string, unknown>>;

/** A JSON Schema 2020-12, or a reference to one of the document. */
export type Schema = Json;

export interface MediaType {
  readonly schema: Schema;
  readonly example?: unknown;
  readonly examples?: Readonly<Record<string, { readonly value: unknown }>>;
}

export type MediaTypes = Readonly<Record<string, MediaType>>;

export interface Parameter {
  readonly name: string;
  readonly in: string;
  readonly description: string;
  readonly required: boolean;
  readonly schema: Schema;
  readonly example?: unknown;
}

export interface RequestBody {
  readonly description?: string;
  readonly required: boolean;
  readonly content: MediaTypes;
}

export interface Answer {
  readonly description: string;
  readonly content?: MediaTypes;
  readonly headers?: Readonly<
    Record<string, { readonly description: string; readonly schema: Schema }>
  >;
}

export interface Operation {
  readonly operationId: string;
  readonly tags: readonly string[];
  readonly summary: string;
  readonly description?: string;
  /** Alternatives; none: no token is needed. */
  readonly security: readonly Readonly<Record<string, readonly string[]>>[];
  readonly parameters?: readonly Parameter[];
  readonly requestBody?: RequestBody;
  readonly responses: Readonly<Record<string, Answer>>;
}

export type Paths = Readonly<Record<string, Readonly<Record<string, Operation>>>>;

export interface OpenApiDocument {
  readonly openapi: string;
  readonly info: {
    readonly title: string;
    readonly version: string;
    readonly description: string;
    readonly license: Json;
  };
  readonly servers: readonly { readonly url: string }[];
  readonly tags: readonly { readonly name: string; readonly description: string }[];
  readonly paths: Paths;
  readonly components: {
    readonly schemas: Readonly<Record<string, Schema>>;
    readonly securitySchemes: Readonly<Record<string, Json>>;
  };
}
