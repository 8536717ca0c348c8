import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { MOST_COUNTED, type Count } from '../form/count.js';
import { pressKey, readTyped } from '../form/key-pad.js';
import { Act } from '../parts/act.js';
import { KeyPad } from '../parts/key-pad.js';
import { NumberField } from '../parts/number-field.js';
import { usePage } from '../parts/page-context.js';
import { takeCount } from '../session/run-count.js';
import { countText } from '../words/show-values.js';

/** For so long a thumb that is still tapping presses nothing here. */
const SETTLE_MS = 1000;
const DIGITS = { whole: 4, decimals: 0 };

/** The end of a count: the sum, set right or typed, and taken; or why it cannot be used. */
export function CountDone({ count }: { count: Count }): JSX.Element {
  const { session, say } = usePage();
  const counted = count.state === 'done' ? count.count : null;
  const [text, setText] = useState(counted === null ? '' : String(counted));
  const [typing, setTyping] = useState(counted === null);
  const settled = useSettled();
  const number = text === '' || Number(text) > MOST_COUNTED ? null : Number(text);
  const take = (): void => {
    if (settled && number !== null) takeCount(session, number);
  };
  const type = (): void => {
    setTyping(true);
  };
  return (
    <div class="count-done">
      <div role="status">
        {count.state === 'interrupted' && <Interrupted count={count} />}
        {count.state === 'done' && <p class="time-up">{say('count.time-up')}</p>}
        {number !== null && (
          <p class="big-value">{countText({ count: number, seconds: count.seconds }, say)}</p>
        )}
      </div>
      {typing ? (
        <TypedCount seconds={count.seconds} text={text} settled={settled} {...{ setText, take }} />
      ) : (
        <div class="acts-row">
          <Act disabled={!settled} does={type}>
            {say('count.correct')}
          </Act>
          <Act main disabled={!settled} does={take}>
            {say('count.take')}
          </Act>
        </div>
      )}
    </div>
  );
}

function TypedCount(props: {
  seconds: number;
  text: string;
  settled: boolean;
  setText: (text: string) => void;
  take: () => void;
}): JSX.Element {
  const { say } = usePage();
  const { seconds, text, settled, setText, take } = props;
  return (
    <>
      <NumberField
        label={say('count.typed', { seconds })}
        text={text}
        active={settled}
        unit=""
        onType={(typed) => {
          const taken = readTyped(typed, DIGITS);
          setText(taken);
          return taken;
        }}
        onActive={() => undefined}
        onEnter={take}
      />
      <KeyPad
        hasPoint={false}
        next={say('count.take')}
        onKey={(key) => {
          if (settled) setText(pressKey(text, key, DIGITS));
        }}
        onNext={take}
      />
    </>
  );
}

function useSettled(): boolean {
  const [settled, setSettled] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => {
      setSettled(true);
    }, SETTLE_MS);
    return () => {
      clearTimeout(timer);
    };
  }, []);
  return settled;
}

function Interrupted({ count }: { count: Extract<Count, { state: 'interrupted' }> }): JSX.Element {
  const { say } = usePage();
  return (
    <div class="broken-off">
      <p class="broken-head">{say('count.broken')}</p>
      <p>{say(`count.broken-${count.why}`, { tapped: count.tapped })}</p>
      <p>{say('count.broken-then')}</p>
    </div>
  );
}
