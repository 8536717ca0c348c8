/** What the desk's pages do in the browser beyond links and forms. They work without it. */
import { followWork } from './follow-work.js';
import { addKeys } from './list-keys.js';
import { followHeld } from './live-list.js';

followWork();
followHeld();
addKeys();
for (const button of document.querySelectorAll<HTMLButtonElement>('button.print')) {
  button.addEventListener('click', () => {
    window.print();
  });
}
