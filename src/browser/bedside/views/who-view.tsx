import type { JSX } from 'preact';
import { useRef, useState } from 'preact/hooks';
import { Act } from '../parts/act.js';
import { Heading } from '../parts/heading.js';
import { KindChoice } from '../parts/kind-choice.js';
import { usePage } from '../parts/page-context.js';
import { canScan } from '../senses/scan-code.js';
import { lookUp } from '../session/choose-patient.js';
import { signInAgain } from '../session/open-session.js';
import { ByHand } from './patient-by-hand.js';
import { ConfirmFound } from './patient-found.js';
import { Scanner } from './scanner.js';

/** Who it is: scanned or typed, then confirmed by hand. */
export function WhoView(): JSX.Element {
  const { state, say } = usePage();
  const { lookUp: looked } = state;
  return (
    <section class="who">
      <Heading>{say('who.ask')}</Heading>
      {looked.state === 'found' ? (
        <ConfirmFound found={looked.patient} />
      ) : (
        <>
          <LookUpForm />
          <div role="status">
            {looked.state === 'asking' && <p class="quiet">{say('who.asking')}</p>}
            {looked.state === 'not-found' && (
              <p class="notice">{say(`who.${looked.why}`, { value: looked.value })}</p>
            )}
          </div>
          {looked.state === 'not-found' && looked.why === 'not-allowed' && (
            <Act does={signInAgain}>{say('sign-in-again')}</Act>
          )}
          {looked.state === 'not-found' &&
            (looked.why === 'unknown' || looked.why === 'no-network') && (
              <ByHand
                key={looked.value}
                value={looked.value}
                system={looked.system}
                unregistered={looked.why === 'unknown' ? 'unknown' : 'not-asked'}
              />
            )}
        </>
      )}
    </section>
  );
}

/** A scanner that types ends with Enter, as a keyboard does. */
function LookUpForm(): JSX.Element {
  const { session, say } = usePage();
  const input = useRef<HTMLInputElement>(null);
  const [system, setSystem] = useState('');
  const [scanning, setScanning] = useState(false);
  const ask = (value: string): void => {
    setScanning(false);
    if (input.current !== null) input.current.value = value;
    void lookUp(session, value, system === '' ? null : system);
  };
  const switchCamera = (): void => {
    setScanning(!scanning);
  };
  return (
    <form
      class="look-up"
      onSubmit={(event) => {
        event.preventDefault();
        ask(input.current?.value ?? '');
      }}
    >
      <label>
        {say('who.number')}
        <input
          ref={input}
          class="identifier"
          type="text"
          autocomplete="off"
          autocapitalize="characters"
          spellcheck={false}
          maxLength={200}
        />
      </label>
      <KindChoice chosen={system} none={say('who.any-kind')} onChoose={setSystem} />
      <div class="acts-row">
        {canScan() && <Act does={switchCamera}>{say(scanning ? 'who.stop-scan' : 'who.scan')}</Act>}
        <button type="submit" class="main-act">
          {say('who.look-up')}
        </button>
      </div>
      {scanning && <Scanner onCode={ask} />}
    </form>
  );
}
