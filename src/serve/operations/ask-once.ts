/** A question whose answer all share who ask while it is under way. */
export function askOnce<T>(ask: () => Promise<T>): () => Promise<T> {
  let asking: Promise<T> | null = null;
  return () => {
    asking ??= ask().finally(() => {
      asking = null;
    });
    return asking;
  };
}
