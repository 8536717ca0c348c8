import type { ReviewReading } from '../../../store/review-readings.js';
import type { HeldCounts } from '../../../store/held-figures.js';
import { MOST_COUNTED } from '../../../store/held-figures.js';
import { VITALS } from '../../../vitals/words.js';
import { hasScope } from '../../auth/scopes.js';
import type { SignedIn } from '../../http/route.js';
import { Moment } from '../../pages/parts/moment.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { ReasonFields } from '../decide/reason-fields.js';
import { HeldTable } from './held-table.js';
import { heldAddress } from './read-held-search.js';
import type { HeldAsked, HeldState } from './read-held-search.js';

export interface HeldPageFacts {
  readonly asked: HeldAsked;
  readonly readings: readonly ReviewReading[];
  readonly counts: HeldCounts;
  /** Stamp of the last commit before the list was read, in ms since the epoch. */
  readonly stampMs: number;
  /** Address of the next page; null: this is the last. */
  readonly next: string | null;
  readonly rules: readonly string[];
  readonly zone: string;
  readonly nowMs: number;
  readonly caller: SignedIn;
}

const STATE_WORDS: Readonly<Record<HeldState, string>> = {
  held: 'All held',
  waiting: 'Waiting',
  out: 'Out, unconfirmed',
  decided: 'Decided',
};

/** What a number of a state is; null: it is not counted. */
function countIn(state: HeldState, counts: HeldCounts): number | null {
  const waiting = counts.criticalWaiting + counts.otherWaiting;
  const out = counts.criticalOut + counts.otherOut;
  switch (state) {
    case 'held':
      return waiting + out;
    case 'waiting':
      return waiting;
    case 'out':
      return out;
    case 'decided':
      return null;
  }
}

export function countText(count: number): string {
  return count > MOST_COUNTED ? `over ${MOST_COUNTED}` : String(count);
}

function States({ asked, counts }: Pick<HeldPageFacts, 'asked' | 'counts'>) {
  const { rule, vital } = asked;
  return (
    <nav aria-label="States" class="states">
      <ul>
        {(['held', 'waiting', 'out', 'decided'] as const).map((state) => {
          const count = countIn(state, counts);
          return (
            <li key={state}>
              <a
                href={heldAddress({ state, rule, vital })}
                aria-current={state === asked.state ? 'page' : undefined}
              >
                {STATE_WORDS[state]}
                {count !== null && <span class="count"> {countText(count)}</span>}
              </a>
            </li>
          );
        })}
      </ul>
    </nav>
  );
}

function Filter({ asked, rules }: Pick<HeldPageFacts, 'asked' | 'rules'>) {
  return (
    <form class="row filter no-print" method="get" action="/desk">
      {asked.state !== 'held' && <input type="hidden" name="state" value={asked.state} />}
      <div class="field">
        <label for="rule">Reason</label>
        <select id="rule" name="rule">
          <option value="">any</option>
          {rules.map((rule) => (
            <option key={rule} value={rule} selected={rule === asked.rule}>
              {wordText(rule)}
            </option>
          ))}
        </select>
      </div>
      <div class="field">
        <label for="vital">Sign</label>
        <select id="vital" name="vital">
          <option value="">any</option>
          {VITALS.map((vital) => (
            <option key={vital} value={vital} selected={vital === asked.vital}>
              {signText(vital)}
            </option>
          ))}
        </select>
      </div>
      <button type="submit">Show</button>
      {(asked.rule !== '' || asked.vital !== '') && (
        <a href={heldAddress({ state: asked.state })}>Show all</a>
      )}
    </form>
  );
}

/** Several at once, where they are held for the same reason. */
function Together({ caller }: Pick<HeldPageFacts, 'caller'>) {
  return (
    <details class="together no-print">
      <summary>Decide several at once</summary>
      <form id="together" method="post" action="/desk/decisions">
        <p class="hint">
          Mark readings above that are held for the same reason. Each is decided by itself: what has
          changed meanwhile is left as it is, and you are told.
        </p>
        <ReasonFields caller={caller} id="together" actions={['release', 'reject']} />
        <button type="submit" class="main">
          Decide the marked readings
        </button>
      </form>
    </details>
  );
}

function Keys() {
  return (
    <details class="keys no-print">
      <summary>Keys</summary>
      <p>
        With the focus on a reading: <kbd>↓</kbd> and <kbd>↑</kbd> go to the next and the previous
        one, <kbd>Enter</kbd> opens it, <kbd>x</kbd> marks it, <kbd>Home</kbd> goes to the most
        urgent one. <kbd>Tab</kbd> goes through everything as usual.
      </p>
    </details>
  );
}

/** The list itself is what is shown anew when something has changed; the forms about it stay. */
export function HeldPage(facts: HeldPageFacts) {
  const { asked, readings, counts, stampMs, next, zone, nowMs, caller } = facts;
  const canDecide = hasScope(caller.scopes, 'review.write') && asked.state !== 'decided';
  const critical = counts.criticalWaiting + counts.criticalOut;
  return (
    <>
      <div id="held-head" data-stamp={String(stampMs)}>
        <p class="lead">
          {critical === 0
            ? 'No critical reading is held.'
            : `${countText(critical)} critical held.`}{' '}
          <span class="soft">
            As at <Moment atMs={nowMs} zone={zone} seconds />
            <span id="live"> · load the page again to see changes</span>
          </span>
        </p>
        <States asked={asked} counts={counts} />
      </div>
      <div id="news" role="status" class="news no-print" />
      <Filter asked={asked} rules={facts.rules} />
      <div id="held-list">
        <HeldTable
          {...{ readings, zone, canDecide }}
          caption={`${STATE_WORDS[asked.state]}: the most urgent first`}
        />
        {next !== null && (
          <p>
            <a href={next}>Next page</a>
          </p>
        )}
      </div>
      {canDecide && readings.length > 0 && <Together caller={caller} />}
      <Keys />
      <p class="no-print">
        <a href="/desk/unconfirmed">What went out unconfirmed</a>: a report to print
      </p>
    </>
  );
}
