import type { JSX } from 'preact';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { prepareSound, signalEnd } from '../senses/sounds.js';
import { goHome, goTo } from '../session/go-to.js';
import { signOut } from '../session/open-session.js';
import { isLanguage, LANGUAGES } from '../words/say.js';

/** How the page is heard and felt, its language, and the ways out of it. */
export function MenuView(): JSX.Element {
  const { state, say } = usePage();
  return (
    <section class="menu">
      <Heading>{say('menu.title')}</Heading>
      {state.person !== null && <p>{say('menu.person', { name: state.person.name })}</p>}
      <SenseChoices />
      <LanguageChoice />
      <div class="menu-ways">
        {state.form === null && <Act does={goTo({ name: 'practice' })}>{say('practice.open')}</Act>}
        <Act does={goTo({ name: 'outbox' })}>{say('outbox.open', { count: state.waiting })}</Act>
        {state.sent.map(({ setId, form }) => (
          <Act key={setId} does={goTo({ name: 'sent', setId })}>
            {say('menu.sent', { patient: form.patient.claimed.identifier.value })}
          </Act>
        ))}
        <Act does={signOut}>{say('menu.sign-out')}</Act>
      </div>
      <div class="acts">
        <div class="acts-row">
          <Act main does={goHome}>
            {say('back')}
          </Act>
        </div>
      </div>
    </section>
  );
}

const SENSES = ['sound', 'vibration', 'ticks'] as const;

function SenseChoices(): JSX.Element {
  const { say, preferences, prefer } = usePage();
  const onOrOff = [
    { word: true, label: say('on') },
    { word: false, label: say('off') },
  ];
  const tryOut = (): void => {
    prepareSound();
    signalEnd(preferences);
  };
  return (
    <>
      {SENSES.map((sense) => (
        <ChoiceRow
          key={sense}
          legend={say(`menu.${sense}`)}
          choices={onOrOff}
          chosen={preferences[sense]}
          onChoose={(on) => {
            if (on !== null) prefer({ [sense]: on });
          }}
        />
      ))}
      <Act does={tryOut}>{say('menu.try')}</Act>
    </>
  );
}

function LanguageChoice(): JSX.Element {
  const { say, preferences, prefer } = usePage();
  return (
    <>
      <ChoiceRow<string>
        legend={say('menu.language')}
        choices={Object.entries(LANGUAGES).map(([word, label]) => ({ word, label }))}
        chosen={preferences.language}
        onChoose={(word) => {
          if (word !== null && isLanguage(word)) prefer({ language: word });
        }}
      />
      {preferences.language !== 'en' && <p class="quiet">{say('menu.translation')}</p>}
    </>
  );
}
