import type { JSX } from 'preact';
import { CATALOGUE } from '../../../vitals/catalogue.js';
import type { EnteredUnit, Vital } from '../../../vitals/words.js';
import type { Entry } from '../form/set-form.js';
import type { Field } from '../form/steps.js';
import { usePage } from '../parts/page-context.js';
import { unitText } from '../words/show-values.js';

/** Where there are several units it is changed here, for all parts of the sign. Nothing is converted. */
export function UnitChoice(props: {
  fields: readonly Field[];
  vital: Vital;
  unit: EnteredUnit;
  onChoose: (units: Entry['units']) => void;
}): JSX.Element | null {
  const { say } = usePage();
  const { fields, vital, unit, onChoose } = props;
  const taken = CATALOGUE[vital].unitsTaken;
  const choices = taken.filter(
    (one, place) => taken.findIndex((other) => unitText(other) === unitText(one)) === place,
  );
  if (choices.length === 1) return null;
  const choose = (chosen: EnteredUnit): void => {
    const alike = fields.filter((field) => field.vital === vital);
    onChoose(Object.fromEntries(alike.map(({ name }) => [name, chosen])));
  };
  return (
    <label class="unit">
      {say('unit')}
      <select
        value={unit}
        onChange={(event) => {
          choose(event.currentTarget.value as EnteredUnit);
        }}
      >
        {choices.map((one) => (
          <option key={one} value={one}>
            {unitText(one)}
          </option>
        ))}
      </select>
    </label>
  );
}
