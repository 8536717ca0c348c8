import type { JSX } from 'preact';
import { CUFF_SIZES, POSITIONS, SIDES, type Position, type Site } from '../../../vitals/words.js';
import { offerChoices } from '../form/offer-choices.js';
import type { Choices, Entry } from '../form/set-form.js';
import { stepOf, type Way } from '../form/steps.js';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { NumberLine } from '../parts/number-line.js';
import { usePage } from '../parts/page-context.js';
import { choose, fillEntry, setPosition } from '../session/fill-form.js';
import type { Say } from '../words/say.js';

/** How, where, which side, which cuff: one tap each, or all as last time. */
export function EntryChoices({ entry }: { entry: Entry }): JSX.Element {
  const { session, state, say } = usePage();
  const step = stepOf(entry.step);
  const ways = step.ways.filter(({ method }) => entry.method === null || method === entry.method);
  const sites = [...new Set(ways.flatMap((way) => way.sites))];
  const take = (choices: Partial<Choices>): void => {
    choose(session, entry.id, choices);
  };
  const offered = offerChoices(state.habits, entry);
  return (
    <div class="choice-rows">
      {offered !== null && (
        <Act
          look="as-before"
          does={() => {
            take(offered);
          }}
        >
          <span>{say('choice.as-before')}</span> {choicesText(offered, say)}
        </Act>
      )}
      {step.ways.length > 1 && (
        <ChoiceRow
          legend={say('choice.method')}
          choices={step.ways.flatMap(({ method }) =>
            method === null ? [] : [{ word: method, label: say(`method.${method}`) }],
          )}
          chosen={entry.method}
          onChoose={(method) => {
            take({ method });
          }}
        />
      )}
      {sites.length > 0 && (
        <ChoiceRow
          legend={say('choice.site')}
          choices={sites.map((site) => ({ word: site, label: say(`site.${site}`) }))}
          chosen={entry.site}
          onChoose={(site) => {
            take({ site, ...methodOf(ways, site) });
          }}
        />
      )}
      {step.hasSide && (
        <ChoiceRow
          legend={say('choice.side')}
          choices={SIDES.map((side) => ({ word: side, label: say(`side.${side}`) }))}
          chosen={entry.side}
          onChoose={(side) => {
            take({ side });
          }}
        />
      )}
      {step.hasCuff && <CuffChoices entry={entry} take={take} />}
      {entry.site === 'oral' && <DrinkChoices entry={entry} />}
    </div>
  );
}

/** A place that only one way of measuring has tells the way as well: the apex is listened to. */
function methodOf(ways: readonly Way[], site: Site | null): Partial<Choices> {
  const having = ways.filter(({ sites }) => sites.some((each) => each === site));
  const [only] = having;
  return having.length === 1 && only !== undefined ? { method: only.method } : {};
}

function CuffChoices(props: {
  entry: Entry;
  take: (choices: Partial<Choices>) => void;
}): JSX.Element {
  const { session, say } = usePage();
  return (
    <>
      <ChoiceRow
        legend={say('choice.cuff')}
        choices={CUFF_SIZES.map((size) => ({ word: size, label: say(`cuff.${size}`) }))}
        chosen={props.entry.cuffSize}
        onChoose={(cuffSize) => {
          props.take({ cuffSize });
        }}
      />
      <ChoiceRow
        legend={say('choice.arm-level')}
        choices={[
          { word: true, label: say('yes') },
          { word: false, label: say('no') },
        ]}
        chosen={props.entry.armAtHeartLevel}
        onChoose={(armAtHeartLevel) => {
          fillEntry(session, props.entry.id, { armAtHeartLevel });
        }}
      />
      <PositionChoice />
      <NumberLine
        label={say('choice.arm-circumference')}
        text={props.entry.armCircumference}
        digits={ARM_DIGITS}
        onType={(armCircumference) => {
          fillEntry(session, props.entry.id, { armCircumference });
        }}
      />
    </>
  );
}

const ARM_DIGITS = { whole: 2, decimals: 1 };
const MINUTES = [5, 10, 15, 20, 30] as const;

/** A drink moves the temperature under the tongue for a while. */
function DrinkChoices({ entry }: { entry: Entry }): JSX.Element {
  const { session, say } = usePage();
  const drinks = [
    ['choice.hot-drink', 'sinceHotDrink'],
    ['choice.cold-drink', 'sinceColdDrink'],
  ] as const;
  return (
    <>
      {drinks.map(([legend, member]) => (
        <ChoiceRow<number>
          key={member}
          legend={say(legend)}
          choices={MINUTES.map((word) => ({ word, label: say('choice.minutes', { n: word }) }))}
          chosen={entry[member]}
          onChoose={(minutes) => {
            fillEntry(session, entry.id, { [member]: minutes });
          }}
        />
      ))}
    </>
  );
}

/** Of the patient, for the whole set. */
function PositionChoice(): JSX.Element {
  const { session, state, say } = usePage();
  return (
    <ChoiceRow<Position>
      legend={say('choice.position')}
      choices={POSITIONS.map((word) => ({ word, label: say(`position.${word}`) }))}
      chosen={state.form?.position ?? null}
      onChoose={(position) => {
        setPosition(session, position);
      }}
    />
  );
}

function choicesText({ method, site, side, cuffSize }: Choices, say: Say): string {
  const words = [
    ...(method === null ? [] : [say(`method.${method}`)]),
    ...(site === null ? [] : [say(`site.${site}`)]),
    ...(side === null ? [] : [say(`side.${side}`)]),
    ...(cuffSize === null ? [] : [say(`cuff.${cuffSize}`)]),
  ];
  return words.join(' · ');
}
