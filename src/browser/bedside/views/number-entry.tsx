import type { JSX } from 'preact';
import { unitOf } from '../form/change-form.js';
import { pressKey, readTyped, type Key } from '../form/key-pad.js';
import type { Entry } from '../form/set-form.js';
import { digitsOf, type Field } from '../form/steps.js';
import { KeyPad } from '../parts/key-pad.js';
import { NumberField } from '../parts/number-field.js';
import { usePage } from '../parts/page-context.js';
import { fillEntry, typeNumber } from '../session/fill-form.js';
import { unitText } from '../words/show-values.js';
import { UnitChoice } from './unit-choice.js';

interface Typing {
  readonly entry: Entry;
  readonly fields: readonly Field[];
  /** The field that the keys fill; null: none, and the keys are away. */
  readonly typing: number | null;
  readonly setTyping: (field: number | null) => void;
}

/** Numbers read off an instrument or a scale, field after field. */
export function NumberEntry(props: Typing): JSX.Element {
  const { session, state, say } = usePage();
  const { entry, fields, typing, setTyping } = props;
  const { units } = state.site;
  const write = (field: Field, text: string): void => {
    typeNumber(session, entry.id, field.name, text);
  };
  const goOn = (from: number): void => {
    setTyping(from + 1 < fields.length ? from + 1 : null);
  };
  return (
    <>
      <div class="numbers">
        {fields.map((field, place) => (
          <NumberField
            key={field.name}
            label={say(`field.${field.name}`)}
            text={entry.numbers[field.name] ?? ''}
            active={place === typing}
            unit={unitText(unitOf(entry, field, units))}
            onType={(typed) => {
              const text = readTyped(typed, digitsOf(unitOf(entry, field, units)));
              write(field, text);
              return text;
            }}
            onActive={() => {
              setTyping(place);
            }}
            onEnter={() => {
              goOn(place);
            }}
          />
        ))}
      </div>
      {fields.filter(isFirstOfSign).map((field) => (
        <UnitChoice
          key={field.vital}
          fields={fields}
          vital={field.vital}
          unit={unitOf(entry, field, units)}
          onChoose={(chosen) => {
            const change = { units: { ...entry.units, ...chosen }, confirmed: false };
            fillEntry(session, entry.id, change);
          }}
        />
      ))}
      <FieldKeys {...props} write={write} goOn={goOn} />
    </>
  );
}

function isFirstOfSign({ vital }: Field, place: number, fields: readonly Field[]): boolean {
  return fields.findIndex((field) => field.vital === vital) === place;
}

/** The keys for the field in hand; the last one leads on. */
function FieldKeys(
  props: Typing & { write: (field: Field, text: string) => void; goOn: (from: number) => void },
): JSX.Element | null {
  const { state, say } = usePage();
  const { entry, fields, typing } = props;
  const field = typing === null ? undefined : fields[typing];
  if (field === undefined || typing === null) return null;
  const digits = digitsOf(unitOf(entry, field, state.site.units));
  const next = fields[typing + 1];
  const press = (key: Key): void => {
    props.write(field, pressKey(entry.numbers[field.name] ?? '', key, digits));
  };
  return (
    <KeyPad
      hasPoint={digits.decimals > 0}
      next={
        next === undefined ? say('key.done') : say('key.next', { field: say(`field.${next.name}`) })
      }
      onKey={press}
      onNext={() => {
        props.goOn(typing);
      }}
    />
  );
}
