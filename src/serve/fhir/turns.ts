/** Entries rendered at a stretch: about two milliseconds of work. */
const SLICE = 100;

let queue: Promise<void> = Promise.resolve();

/** Resolves in a turn of the event loop that no other slice of work has. */
function nextTurn(): Promise<void> {
  queue = queue.then(
    () =>
      new Promise((resolve) => {
        setImmediate(resolve);
      }),
  );
  return queue;
}

/**
 * Renders many rows in slices, one slice a turn whoever asks: readers of large pages, however many,
 * leave room for the sets that arrive meanwhile.
 */
export async function renderInTurns<Row>(
  rows: readonly Row[],
  render: (row: Row) => string,
): Promise<string[]> {
  const rendered: string[] = [];
  for (let start = 0; start < rows.length; start += SLICE) {
    await nextTurn();
    for (const row of rows.slice(start, start + SLICE)) rendered.push(render(row));
  }
  return rendered;
}
