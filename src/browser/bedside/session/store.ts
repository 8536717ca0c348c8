/** One state that the page shows; whoever listens is told of each new one. */
export interface Store<State> {
  get(): State;
  change(change: Partial<State>): void;
  listen(listener: () => void): () => void;
}

export function openStore<State extends object>(first: State): Store<State> {
  let state = first;
  const listeners = new Set<() => void>();
  return {
    get: () => state,
    change(change) {
      state = { ...state, ...change };
      for (const listener of listeners) listener();
    },
    listen(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
  };
}
