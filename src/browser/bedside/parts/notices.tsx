import type { JSX } from 'preact';
import type { Session } from '../session/surroundings.js';
import { Act } from './act.js';
import { usePage } from './page-context.js';

/** What must be said whatever the view is; it stays until it is put away. */
export function Notices(): JSX.Element {
  const { state, say } = usePage();
  const { notice, takeNewPage, form } = state;
  return (
    <div class="notices">
      <div role="alert">
        {notice !== null && (
          <div class="notice-bar">
            <p>{say(`notice.${notice}`)}</p>
            <Act does={putAway}>{say('notice.seen')}</Act>
          </div>
        )}
      </div>
      {takeNewPage !== null && form === null && (
        <div class="notice-bar">
          <p>{say('notice.new-page')}</p>
          <Act does={takeNewPage}>{say('notice.take-new-page')}</Act>
        </div>
      )}
    </div>
  );
}

function putAway({ store }: Session): void {
  store.change({ notice: null });
}
