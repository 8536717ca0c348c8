/** Keeps the screen on while a person counts; the answer lets it go. Nothing where a browser cannot. */
export function keepAwake(): () => void {
  let lock: { release(): Promise<void> } | null = null;
  let over = false;
  if ('wakeLock' in navigator) {
    navigator.wakeLock.request('screen').then(
      (held) => {
        lock = held;
        if (over) void held.release();
      },
      () => undefined,
    );
  }
  return () => {
    over = true;
    void lock?.release();
  };
}
