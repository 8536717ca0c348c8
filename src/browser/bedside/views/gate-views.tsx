/** What stands where no patient may be seen: while the page opens, after an idle time, in a second tab. */
import type { JSX } from 'preact';
import { Act } from '../parts/act.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { confirmPerson, enter, signInAgain } from '../session/open-session.js';

export function OpeningView(): JSX.Element {
  const { say } = usePage();
  return (
    <section class="gate">
      <Heading>{say('opening')}</Heading>
    </section>
  );
}

export function LockedView(): JSX.Element {
  const { say } = usePage();
  return (
    <section class="gate">
      <Heading>{say('locked.title')}</Heading>
      <p>{say('locked.words')}</p>
      <Act main does={enter}>
        {say('locked.go-on')}
      </Act>
    </section>
  );
}

export function StillYouView(): JSX.Element {
  const { state, say } = usePage();
  return (
    <section class="gate">
      <Heading>{say('still-you.ask', { name: state.person?.name ?? '' })}</Heading>
      <p>{say('still-you.words')}</p>
      <div class="acts-row">
        <Act does={signInAgain}>{say('still-you.no')}</Act>
        <Act main does={confirmPerson}>
          {say('still-you.yes')}
        </Act>
      </div>
    </section>
  );
}

export function ElsewhereView({ onTakeOver }: { onTakeOver: () => void }): JSX.Element {
  const { say } = usePage();
  return (
    <section class="gate">
      <Heading>{say('elsewhere.title')}</Heading>
      <p>{say('elsewhere.words')}</p>
      <Act main does={onTakeOver}>
        {say('elsewhere.take-over')}
      </Act>
    </section>
  );
}
