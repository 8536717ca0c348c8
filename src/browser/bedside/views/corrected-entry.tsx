import type { JSX } from 'preact';
import { CONSCIOUSNESS_CODES, SIDES, type Vital } from '../../../vitals/words.js';
import { unitOf } from '../form/change-form.js';
import { COUNT_SECONDS, MOST_COUNTED } from '../form/count.js';
import type { Entry } from '../form/set-form.js';
import { digitsOf, stepOf } from '../form/steps.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { NumberLine } from '../parts/number-line.js';
import { usePage } from '../parts/page-context.js';
import { countText, unitText } from '../words/show-values.js';
import { UnitChoice } from './unit-choice.js';

interface Correcting {
  readonly entry: Entry;
  readonly vital: Vital;
  readonly onChange: (entry: Entry) => void;
}

/** The reading as it should have been: starts from what was sent. */
export function CorrectedEntry(props: Correcting): JSX.Element {
  const { say } = usePage();
  const { entry, onChange } = props;
  const step = stepOf(entry.step);
  const sites = [...new Set(step.ways.flatMap((way) => way.sites))];
  return (
    <div class="corrected">
      {step.kind === 'count' && <CorrectedCount {...props} />}
      {step.kind === 'numbers' && <CorrectedNumbers {...props} />}
      {step.kind === 'code' && (
        <ChoiceRow
          legend={say('awareness.ask')}
          choices={CONSCIOUSNESS_CODES.map((word) => ({ word, label: say(`awareness.${word}`) }))}
          chosen={entry.code}
          onChoose={(code) => {
            onChange({ ...entry, code, absent: null });
          }}
        />
      )}
      {sites.length > 0 && (
        <ChoiceRow
          legend={say('choice.site')}
          choices={sites.map((site) => ({ word: site, label: say(`site.${site}`) }))}
          chosen={entry.site}
          onChoose={(site) => {
            onChange({ ...entry, site });
          }}
        />
      )}
      {step.hasSide && (
        <ChoiceRow
          legend={say('choice.side')}
          choices={SIDES.map((side) => ({ word: side, label: say(`side.${side}`) }))}
          chosen={entry.side}
          onChoose={(side) => {
            onChange({ ...entry, side });
          }}
        />
      )}
    </div>
  );
}

const COUNT_DIGITS = { whole: 4, decimals: 0 };

function CorrectedCount({ entry, onChange }: Correcting): JSX.Element {
  const { say } = usePage();
  const counted = entry.counted ?? { count: 0, seconds: 30 };
  return (
    <>
      <NumberLine
        label={say('count.typed', { seconds: counted.seconds })}
        text={entry.counted === null ? '' : String(entry.counted.count)}
        digits={COUNT_DIGITS}
        onType={(text) => {
          const count = Math.min(Number(text), MOST_COUNTED);
          onChange({ ...entry, absent: null, counted: text === '' ? null : { ...counted, count } });
        }}
      />
      <ChoiceRow
        legend={say('count.time')}
        choices={COUNT_SECONDS.map((word) => ({
          word,
          label: say('count.for', { seconds: word }),
        }))}
        chosen={counted.seconds}
        onChoose={(seconds) => {
          if (seconds !== null) onChange({ ...entry, counted: { ...counted, seconds } });
        }}
      />
      {entry.counted !== null && <p class="big-value">{countText(entry.counted, say)}</p>}
    </>
  );
}

function CorrectedNumbers({ entry, vital, onChange }: Correcting): JSX.Element {
  const { state, say } = usePage();
  const fields = stepOf(entry.step).fields.filter((field) => field.vital === vital);
  const [first] = fields;
  if (first === undefined) return <></>;
  const unit = unitOf(entry, first, state.site.units);
  return (
    <>
      {fields.map(({ name }) => (
        <NumberLine
          key={name}
          label={`${say(`field.${name}`)} (${unitText(unit)})`}
          text={entry.numbers[name] ?? ''}
          digits={digitsOf(unit)}
          onType={(text) => {
            onChange({ ...entry, absent: null, numbers: { ...entry.numbers, [name]: text } });
          }}
        />
      ))}
      <UnitChoice
        fields={fields}
        vital={vital}
        unit={unit}
        onChoose={(units) => {
          onChange({ ...entry, units: { ...entry.units, ...units } });
        }}
      />
    </>
  );
}
