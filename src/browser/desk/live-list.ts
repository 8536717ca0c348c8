/**
 * Keeps the list of held readings as it is at the gateway. Nothing moves under a hand: while somebody has
 * marked or focused a reading, the news is told and shown on request.
 */

interface News {
  readonly newlyHeld: { readonly all: number; readonly critical: number };
}

const LIST = 'held-list';
const HEAD = 'held-head';

function byId(id: string): HTMLElement | null {
  return document.getElementById(id);
}

/** Whether the list may change by itself just now. */
function isAtRest(): boolean {
  const list = byId(LIST);
  const marked = list?.querySelector('input:checked') ?? null;
  const isInUse = list?.contains(document.activeElement) ?? false;
  return marked === null && !isInUse && !document.hidden;
}

function newsText({ newlyHeld: { all, critical } }: News): string {
  if (critical > 0)
    return critical === 1
      ? '1 critical reading was held.'
      : `${critical} critical readings were held.`;
  if (all > 0) return all === 1 ? '1 more reading is held.' : `${all} more readings are held.`;
  return 'The list has changed.';
}

/** Says the news, with a button where the list waits to be shown anew. */
function tell(text: string, show: (() => void) | null): void {
  const place = byId('news');
  if (place === null) return;
  place.replaceChildren(document.createTextNode(text));
  if (show === null) return;
  const button = document.createElement('button');
  button.type = 'button';
  button.textContent = 'Show';
  button.addEventListener('click', show);
  place.append(' ', button);
}

/** Asks for this very page again, and puts its list in the place of ours. Marks that still fit stay. */
async function showAnew(): Promise<void> {
  const answer = await fetch(location.href, {
    headers: { accept: 'text/html', 'x-background': 'yes' },
    redirect: 'error',
  });
  if (!answer.ok) throw new Error(String(answer.status));
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  const marked = new Set(
    [...document.querySelectorAll<HTMLInputElement>(`#${LIST} input:checked`)].map(
      (one) => one.value,
    ),
  );
  for (const id of [HEAD, LIST]) {
    const fresh = page.getElementById(id);
    if (fresh !== null) byId(id)?.replaceWith(document.adoptNode(fresh));
  }
  for (const box of document.querySelectorAll<HTMLInputElement>(`#${LIST} input[type=checkbox]`)) {
    box.checked = marked.has(box.value);
  }
  sayLive(true);
}

function sayLive(isLive: boolean): void {
  const place = byId('live');
  if (place === null) return;
  place.textContent = isLive ? ' · live' : ' · not live: load the page again to see changes';
}

function receive(news: News): void {
  const text = newsText(news);
  const show = (): void => {
    showAnew().then(
      () => {
        tell(text, null);
      },
      () => {
        tell('The list could not be read again. Load the page again.', null);
      },
    );
  };
  if (isAtRest()) show();
  else tell(text, show);
}

export function followHeld(): void {
  const head = byId(HEAD);
  if (head === null) return;
  const source = new EventSource(`/desk/held/events?since=${head.dataset.stamp ?? ''}`);
  source.addEventListener('open', () => {
    sayLive(true);
  });
  source.addEventListener('error', () => {
    sayLive(false);
  });
  source.addEventListener('held', ({ data }: MessageEvent<string>) => {
    receive(JSON.parse(data) as News);
  });
  source.addEventListener('session-ended', () => {
    source.close();
    sayLive(false);
    tell('Your session has ended. Sign in again to go on.', () => {
      location.reload();
    });
  });
}
