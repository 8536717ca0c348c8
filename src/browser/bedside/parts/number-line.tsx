import type { JSX } from 'preact';
import { readTyped, type Digits } from '../form/key-pad.js';

/** A number typed on the device's own keyboard, where there is no hurry. */
export function NumberLine(props: {
  label: string;
  text: string;
  digits: Digits;
  onType: (text: string) => void;
}): JSX.Element {
  const { label, text, digits, onType } = props;
  return (
    <label>
      {label}
      <input
        type="text"
        inputMode={digits.decimals > 0 ? 'decimal' : 'numeric'}
        autocomplete="off"
        value={text}
        onInput={(event) => {
          const typed = readTyped(event.currentTarget.value, digits);
          event.currentTarget.value = typed;
          onType(typed);
        }}
      />
    </label>
  );
}
