import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { Act } from '../parts/act.js';
import { KindChoice } from '../parts/kind-choice.js';
import { usePage } from '../parts/page-context.js';
import { beginSet, chosenByHand } from '../session/choose-patient.js';
import { dateText } from '../words/show-values.js';
import { Confirming } from './confirming.js';

/**
 * A patient whom the register does not know, or cannot be asked about. The set can be taken all the same:
 * it waits, unpublished, until the register knows the number and the second identifier agrees.
 */
export function ByHand(props: {
  value: string;
  system: string | null;
  unregistered: 'unknown' | 'not-asked';
}): JSX.Element {
  const { session, state, say } = usePage();
  const { value, unregistered } = props;
  const kinds = state.site.identifierSystems;
  const only = kinds.length === 1 ? kinds[0]?.system : undefined;
  const [system, setSystem] = useState(props.system ?? only ?? '');
  const [second, setSecond] = useState<Second | null>(null);
  const [numberAgrees, setNumberAgrees] = useState(false);
  const [secondAgrees, setSecondAgrees] = useState(false);
  const ready = numberAgrees && secondAgrees && second !== null && system !== '';
  const begin = (): void => {
    if (second === null) return;
    beginSet(session, chosenByHand({ system, value }, second, unregistered));
  };
  return (
    <div class="by-hand">
      <p>{say(`who.by-hand-${unregistered}`)}</p>
      <KindChoice chosen={system} none={say('who.choose-kind')} onChoose={setSystem} />
      <SecondIdentifier
        onTell={(told) => {
          setSecond(told);
          setSecondAgrees(false);
        }}
      />
      <Confirming confirmed={numberAgrees} onToggle={setNumberAgrees}>
        <span class="identity">{value}</span>
      </Confirming>
      {second !== null && (
        <Confirming confirmed={secondAgrees} onToggle={setSecondAgrees}>
          <SecondShown second={second} />
        </Confirming>
      )}
      <div class="acts">
        {!ready && <p class="quiet">{say('who.confirm-both')}</p>}
        <div class="acts-row">
          <Act main disabled={!ready} does={begin}>
            {say('who.begin')}
          </Act>
        </div>
      </div>
    </div>
  );
}

type Second = { readonly birthDate: string } | { readonly familyName: string };

function SecondShown({ second }: { second: Second }): JSX.Element {
  const { preferences } = usePage();
  const text =
    'birthDate' in second ? dateText(second.birthDate, preferences.language) : second.familyName;
  return <span class="identity">{text}</span>;
}

function SecondIdentifier({ onTell }: { onTell: (second: Second | null) => void }): JSX.Element {
  const { say } = usePage();
  const [birthDate, setBirthDate] = useState('');
  const [familyName, setFamilyName] = useState('');
  const tell = (date: string, name: string): void => {
    setBirthDate(date);
    setFamilyName(name);
    const text = name.trim();
    onTell(date !== '' ? { birthDate: date } : text !== '' ? { familyName: text } : null);
  };
  return (
    <>
      <label>
        {say('who.birth-date')}
        <input
          type="date"
          value={birthDate}
          onInput={(event) => {
            tell(event.currentTarget.value, familyName);
          }}
        />
      </label>
      <label>
        {say('who.or-family-name')}
        <input
          type="text"
          autocomplete="off"
          maxLength={100}
          value={familyName}
          disabled={birthDate !== ''}
          onInput={(event) => {
            tell(birthDate, event.currentTarget.value);
          }}
        />
      </label>
    </>
  );
}
