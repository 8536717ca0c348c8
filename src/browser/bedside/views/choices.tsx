import type { JSX } from 'preact';
import { CUFF_SIZES, POSITIONS, SIDES, type Position, type Site } from '../../../vitals/words.js';
import { offerChoices } from '../form/offer-choices.js';
import type { Choices, Entry } from '../form/set-form.js';
import { stepOf, type Way } from '../form/steps.js';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
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
