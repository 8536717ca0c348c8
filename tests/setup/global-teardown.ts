declare global {
  /** Set by the set-up: drops what the run made and stops the server that it started. */
  var endTestServer: (() => Promise<void>) | undefined;
}

export default async function globalTeardown(): Promise<void> {
  await globalThis.endTestServer?.();
}
