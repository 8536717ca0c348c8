/** The bedside page: opens the way to the gateway and shows what is there to do. */
import { render } from 'preact';
import { App } from './app.js';
import { localTime } from './local-time.js';
import { openDoor } from './open-door.js';
import { openSession } from './session/open-session.js';

const place = document.getElementById('bedside');

function openPage(into: HTMLElement): void {
  const session = openSession({
    door: openDoor(),
    timeNow: () => localTime(new Date()),
    monotonicMs: () => performance.now(),
    newId: () => crypto.randomUUID(),
    leave: (address) => {
      location.assign(address);
    },
    later(act, afterMs) {
      const timer = setTimeout(act, afterMs);
      return () => {
        clearTimeout(timer);
      };
    },
  });
  into.replaceChildren();
  render(<App session={session} />, into);
}

if (place !== null) openPage(place);
