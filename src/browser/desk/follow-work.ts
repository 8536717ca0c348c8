/**
 * Keeps work that is still under way up to date: an element that names its page by `data-follow` is read
 * again from there, until it names none any more. Without script the page has a link for it.
 */
const EVERY_MS = 1_000;

async function readAgain(element: HTMLElement, address: string): Promise<HTMLElement | null> {
  const answer = await fetch(address, { headers: { accept: 'text/html', 'x-background': 'yes' } });
  if (!answer.ok || answer.redirected) return null;
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  return page.getElementById(element.id);
}

async function follow(element: HTMLElement): Promise<void> {
  const address = element.dataset.follow;
  if (address === undefined) return;
  await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
  const next = document.hidden ? element : await readAgain(element, address).catch(() => element);
  // Nobody is signed in any more, or the work is gone: what stands there stays.
  if (next === null) return;
  if (next !== element) {
    const isWatched = element.contains(document.activeElement);
    element.replaceWith(next);
    if (isWatched) next.focus();
  }
  await follow(next);
}

/** Follows all that is under way on the page. */
export function followWork(): void {
  for (const element of document.querySelectorAll<HTMLElement>('[data-follow]')) {
    void follow(element);
  }
}
