/** Keys in the list of held readings. They work on a focused reading only, so that nobody meets them by accident. */

function links(): HTMLElement[] {
  return [...document.querySelectorAll<HTMLElement>('table.held .reading-link')];
}

function move(from: HTMLElement, steps: number): void {
  const all = links();
  all[Math.max(0, Math.min(all.length - 1, all.indexOf(from) + steps))]?.focus();
}

function mark(link: HTMLElement): void {
  link.closest('tr')?.querySelector<HTMLInputElement>('input[type=checkbox]')?.click();
}

function handle(event: KeyboardEvent): boolean {
  const { target } = event;
  const isPlain = !event.ctrlKey && !event.metaKey && !event.altKey;
  if (!isPlain || !(target instanceof HTMLElement) || !target.matches('.reading-link'))
    return false;
  switch (event.key) {
    case 'ArrowDown':
      move(target, 1);
      return true;
    case 'ArrowUp':
      move(target, -1);
      return true;
    case 'Home':
      links()[0]?.focus();
      return true;
    case 'x':
      mark(target);
      return true;
    default:
      return false;
  }
}

export function addKeys(): void {
  document.addEventListener('keydown', (event) => {
    if (handle(event)) event.preventDefault();
  });
}
