/** Moves the clock of this process on; its timers and the database go on as they were. */
export function letPass(ms: number): void {
  jest.useFakeTimers({
    now: Date.now() + ms,
    doNotFake: [
      ...(['hrtime', 'nextTick', 'performance', 'queueMicrotask'] as const),
      ...(['setImmediate', 'clearImmediate', 'setInterval', 'clearInterval'] as const),
      ...(['setTimeout', 'clearTimeout'] as const),
    ],
  });
}
