import type { JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

/**
 * A field for a number that is typed by the page's own keys, by a keyboard or by a scanner. The screen
 * keyboard stays away.
 */
export function NumberField(props: {
  label: string;
  text: string;
  active: boolean;
  unit: string;
  /** Gives back what was taken of the text typed. */
  onType: (text: string) => string;
  onActive: () => void;
  onEnter: () => void;
  describedBy?: string;
}): JSX.Element {
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => {
    if (props.active) input.current?.focus();
  }, [props.active]);
  return (
    <div class={props.active ? 'number active' : 'number'}>
      <label>
        <span class="number-label">
          {props.label} <span class="number-unit">{props.unit}</span>
        </span>
        <input
          ref={input}
          type="text"
          inputMode="none"
          autocomplete="off"
          enterkeyhint="next"
          size={4}
          value={props.text}
          aria-describedby={props.describedBy}
          onInput={(event) => {
            // At once, and not with the next rendering: a scanner types faster than that.
            event.currentTarget.value = props.onType(event.currentTarget.value);
          }}
          onFocus={props.onActive}
          onKeyDown={(event) => {
            if (event.key !== 'Enter') return;
            event.preventDefault();
            props.onEnter();
            focusNext(event.currentTarget);
          }}
        />
      </label>
    </div>
  );
}

/** The next number of the same act, at once: whoever types on does not wait for the rendering. */
function focusNext(input: HTMLInputElement): void {
  const inputs = [...(input.closest('.numbers')?.querySelectorAll('input') ?? [])];
  inputs[inputs.indexOf(input) + 1]?.focus();
}
