import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { WaitingSet } from '../door.js';
import { Act } from '../parts/act.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { goHome } from '../session/go-to.js';
import { putRight } from '../session/send-set.js';
import type { Session } from '../session/surroundings.js';
import { momentText } from '../words/show-values.js';
import { Refused } from './sent-view.js';

/** What waits on this device: own sets with what can be done, those of others by number only. */
export function OutboxView(): JSX.Element {
  const { session, state, say } = usePage();
  const [mine, setMine] = useState<readonly WaitingSet[]>([]);
  const { outbox } = session.around.door;
  useEffect(() => {
    let over = false;
    void outbox.mine().then((sets) => {
      if (!over) setMine(sets);
    });
    return () => {
      over = true;
    };
  }, [outbox, state.waiting]);
  const others = Math.max(0, state.waiting - mine.length);
  return (
    <section class="outbox">
      <Heading>{say('outbox.title', { count: state.waiting })}</Heading>
      <p>{say(state.waiting === 0 ? 'outbox.none' : 'outbox.explain')}</p>
      <ul class="answers">
        {mine.map((waiting) => (
          <MyWaiting key={waiting.setId} waiting={waiting} />
        ))}
      </ul>
      {others > 0 && <p class="quiet">{say('outbox.others', { count: others })}</p>}
      <div class="acts">
        <div class="acts-row">
          <Act does={goHome}>{say('back')}</Act>
          <Act main does={() => outbox.sendNow()}>
            {say('outbox.send-now')}
          </Act>
        </div>
      </div>
    </section>
  );
}

function MyWaiting({ waiting }: { waiting: WaitingSet }): JSX.Element {
  const { state, say } = usePage();
  const [dropping, setDropping] = useState(false);
  const { set, refusal, setId } = waiting;
  const drop = ({ around }: Session): void => {
    if (dropping) void around.door.outbox.takeOut(setId);
    setDropping(!dropping);
  };
  return (
    <li class="answered">
      <h2>{set.patient.identifier.value}</h2>
      <p>{say('outbox.taken', { time: momentText(set.takenAt), count: set.readings.length })}</p>
      {refusal !== null && <Refused problem={refusal} />}
      {refusal !== null && (
        <div class="acts-row">
          {state.form === null && (
            <Act does={(session) => putRight(session, setId)}>{say('sent.put-right')}</Act>
          )}
          <Act grave={dropping} does={drop}>
            {say(dropping ? 'outbox.drop-sure' : 'outbox.drop')}
          </Act>
        </div>
      )}
    </li>
  );
}
