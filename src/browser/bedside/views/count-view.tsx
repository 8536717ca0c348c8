import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { COUNT_SECONDS, secondsLeft, type Count } from '../form/count.js';
import { Act } from '../parts/act.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { keepAwake } from '../senses/keep-awake.js';
import { signalEnd, signalTick } from '../senses/sounds.js';
import { entryOf } from '../session/fill-form.js';
import {
  again,
  breakOff,
  countFor,
  leaveCount,
  letTimePass,
  typeCount,
  undo,
} from '../session/run-count.js';
import { CountDone } from './count-done.js';
import { TapPlace } from './tap-place.js';

const LOOK_EVERY_MS = 100;
const TICK_EVERY_SECONDS = 5;

/** Counting by touch: the whole lower screen is the place to tap, so that the eyes stay on the patient. */
export function CountView({ entryId }: { entryId: number }): JSX.Element | null {
  const { state, say } = usePage();
  const entry = entryOf(state.form, entryId);
  const count = state.counting?.count;
  const left = useTimeLeft(count);
  if (entry === null || count === undefined) return null;
  const live = count.state === 'ready' || count.state === 'running';
  return (
    <section class={`count ${count.state}`}>
      <div class="count-top">
        <Heading>{say(`step.${entry.step}`)}</Heading>
        {live && <CountState count={count} left={left} />}
        <div class="count-acts">
          {count.state === 'ready' && <ReadyActs seconds={count.seconds} />}
          {count.state === 'running' && <Act does={undo}>{say('count.undo')}</Act>}
          {count.state !== 'ready' && <Act does={again}>{say('count.restart')}</Act>}
          {count.state === 'running' && count.seconds < 60 && (
            <Act does={toMinute}>{say('count.to-minute')}</Act>
          )}
          {count.state !== 'running' && <Act does={leaveCount}>{say('back')}</Act>}
        </div>
      </div>
      {live ? (
        <TapPlace step={entry.step} started={count.state === 'running'} />
      ) : (
        <CountDone count={count} />
      )}
    </section>
  );
}

function toMinute(session: Parameters<typeof countFor>[0]): void {
  countFor(session, 60);
}

/** Lets the time pass while a count runs, with sound and shake where they are wanted. */
function useTimeLeft(count: Count | undefined): number {
  const { session, preferences } = usePage();
  const [left, setLeft] = useState(0);
  const running = count?.state === 'running';
  useEffect(() => {
    if (!running) return;
    const letGo = keepAwake();
    let lastTick = 0;
    const timer = setInterval(() => {
      const now = session.store.get().counting?.count;
      if (now?.state !== 'running') return;
      const nowMs = session.around.monotonicMs();
      setLeft(secondsLeft(now, nowMs));
      const passed = Math.floor((nowMs - now.startedMs) / 1000 / TICK_EVERY_SECONDS);
      if (passed > lastTick && passed * TICK_EVERY_SECONDS < now.seconds) signalTick(preferences);
      lastTick = passed;
      letTimePass(session);
      if (session.store.get().counting?.count.state === 'done') signalEnd(preferences);
    }, LOOK_EVERY_MS);
    const hide = (): void => {
      if (document.visibilityState === 'hidden') breakOff(session);
    };
    document.addEventListener('visibilitychange', hide);
    return () => {
      clearInterval(timer);
      document.removeEventListener('visibilitychange', hide);
      letGo();
    };
  }, [running, session, preferences]);
  if (count === undefined) return 0;
  return running && left > 0 ? left : secondsLeft(count, session.around.monotonicMs());
}

function CountState({ count, left }: { count: Count; left: number }): JSX.Element {
  const { say } = usePage();
  return (
    <>
      <div class="count-figures">
        <p role="timer" class="count-left">
          <span class="figure">{left}</span> {say('count.seconds-left')}
        </p>
        {count.state === 'running' && (
          <p class="count-so-far">
            <span class="figure">{count.taps.length}</span> {say('count.so-far')}
          </p>
        )}
      </div>
      <progress max={count.seconds} value={count.seconds - left} aria-label={say('count.time')} />
    </>
  );
}

function ReadyActs({ seconds }: { seconds: number }): JSX.Element {
  const { say } = usePage();
  return (
    <>
      {COUNT_SECONDS.map((length) => (
        <Act
          key={length}
          look="chip"
          pressed={length === seconds}
          does={(session) => {
            countFor(session, length);
          }}
        >
          {say('count.for', { seconds: length })}
        </Act>
      ))}
      <Act does={typeCount}>{say('count.type')}</Act>
    </>
  );
}
