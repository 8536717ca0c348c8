import type { View } from './page-state.js';
import type { Session } from './surroundings.js';

/** The act of going to a view. */
export function goTo(view: View): (session: Session) => void {
  return ({ store }) => {
    store.change({ view });
  };
}

/** Back to what is being entered, or to the next patient. */
export function goHome({ store }: Session): void {
  store.change({ view: { name: store.get().form === null ? 'who' : 'signs' } });
}
