import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { FoundPatient } from '../door.js';
import { Act } from '../parts/act.js';
import { usePage } from '../parts/page-context.js';
import { beginSet, chosenFrom, forgetLookUp } from '../session/choose-patient.js';
import { dateText } from '../words/show-values.js';
import { Confirming } from './confirming.js';

/** Two identifiers, large, each confirmed by hand against wristband or word. */
export function ConfirmFound({ found }: { found: FoundPatient }): JSX.Element {
  const { session, say, preferences } = usePage();
  const [byName, setByName] = useState(false);
  const [byNumber, setByNumber] = useState(false);
  const { familyName, givenNames, birthDate, identifier, others } = found;
  const chosen = chosenFrom(found);
  const begin = (): void => {
    if (chosen !== null) beginSet(session, chosen);
  };
  return (
    <div class="confirm-patient">
      <p>{say('who.confirm')}</p>
      <Confirming confirmed={byName} onToggle={setByName}>
        <span class="identity">
          {[familyName, givenNames.join(' ')].filter(Boolean).join(', ')}
        </span>
        {birthDate !== null && (
          <span class="identity">
            {say('who.born', { date: dateText(birthDate, preferences.language) })}
          </span>
        )}
      </Confirming>
      <Confirming confirmed={byNumber} onToggle={setByNumber}>
        <span class="identity">{identifier.value}</span>
        {others.map(({ value }) => (
          <span key={value}>{value}</span>
        ))}
      </Confirming>
      {chosen === null && <p class="notice">{say('who.no-second')}</p>}
      <div class="acts">
        {!(byName && byNumber) && <p class="quiet">{say('who.confirm-both')}</p>}
        <div class="acts-row">
          <Act does={forgetLookUp}>{say('who.another')}</Act>
          <Act main disabled={!byName || !byNumber || chosen === null} does={begin}>
            {say('who.begin')}
          </Act>
        </div>
      </div>
    </div>
  );
}
