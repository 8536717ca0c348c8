import type { TestGateway } from '../../setup/gateway.js';

/** A manifest, as far as tests look at it (Bulk Data Access, "Complete Status"). */
export interface Manifest {
  readonly transactionTime: string;
  readonly request: string;
  readonly requiresAccessToken: boolean;
  readonly output: readonly {
    readonly type: string;
    readonly url: string;
    readonly count: number;
  }[];
  readonly deleted: readonly unknown[];
  readonly error: readonly unknown[];
}

export interface Exported {
  readonly resourceType: string;
  readonly id: string;
  readonly status?: string;
  readonly subject?: { readonly reference: string };
  readonly code?: { readonly coding: readonly { readonly code: string }[] };
  readonly meta: { readonly versionId: string; readonly lastUpdated: string };
}

export const ASYNC = { Prefer: 'respond-async', Accept: 'application/fhir+json' };

/** How often a client asks again here, whatever Retry-After says: a test is in a hurry. */
const ASK_AGAIN_MS = 30;

/** Bulk Data Access by fetch: kick-off, status until it is done, and every file. */
export class ExportClient {
  readonly #gateway: TestGateway;
  readonly token: string;

  constructor(gateway: TestGateway, token: string) {
    this.#gateway = gateway;
    this.token = token;
  }

  /** The path of the status. */
  async start(path: string, body?: unknown): Promise<string> {
    const answer = await this.#gateway.ask(`/fhir/${path}`, {
      token: this.token,
      headers: ASYNC,
      ...(body === undefined ? {} : { body }),
    });
    if (answer.status !== 202) throw new Error(`${path}: ${answer.status} ${answer.text}`);
    return this.pathOf(answer.headers.get('content-location') ?? '');
  }

  pathOf(address: string): string {
    const { pathname } = new URL(address);
    return pathname;
  }

  async manifest(statusPath: string): Promise<Manifest> {
    for (;;) {
      const answer = await this.#gateway.ask<Manifest>(statusPath, { token: this.token });
      if (answer.status === 200) return answer.body;
      if (answer.status !== 202) throw new Error(`${answer.status} ${answer.text}`);
      await new Promise((resolve) => setTimeout(resolve, ASK_AGAIN_MS));
    }
  }

  async lines(url: string): Promise<Exported[]> {
    const { status, text } = await this.#gateway.ask(this.pathOf(url), { token: this.token });
    if (status !== 200) throw new Error(`${url}: ${status} ${text}`);
    if (!text.endsWith('\n')) throw new Error('the last line has no end');
    return text
      .slice(0, -1)
      .split('\n')
      .map((line) => JSON.parse(line) as Exported);
  }

  /** A whole export. */
  async export(path: string, body?: unknown): Promise<{ manifest: Manifest; found: Exported[] }> {
    const manifest = await this.manifest(await this.start(path, body));
    const files = await Promise.all(
      manifest.output.map(async ({ url, count, type }) => {
        const lines = await this.lines(url);
        if (lines.length !== count)
          throw new Error(`${lines.length} lines where ${count} were told`);
        const others = lines.filter(({ resourceType }) => resourceType !== type);
        if (others.length > 0) throw new Error('a file holds another type than it is told to');
        return lines;
      }),
    );
    return { manifest, found: files.flat() };
  }
}
