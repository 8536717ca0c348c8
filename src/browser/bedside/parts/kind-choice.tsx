import type { JSX } from 'preact';
import { usePage } from './page-context.js';

/**
 * Of which kind a number is: the site's own systems of identifiers. None to choose where there is one; a
 * site that names none is asked for the system itself.
 */
export function KindChoice(props: {
  chosen: string;
  /** What stands there while none is chosen. */
  none: string;
  onChoose: (system: string) => void;
}): JSX.Element | null {
  const { state, say } = usePage();
  const kinds = state.site.identifierSystems;
  if (kinds.length === 0) {
    return (
      <label>
        {say('who.system')}
        <input
          type="text"
          inputMode="url"
          autocomplete="off"
          spellcheck={false}
          maxLength={200}
          value={props.chosen}
          onInput={(event) => {
            props.onChoose(event.currentTarget.value.trim());
          }}
        />
      </label>
    );
  }
  if (kinds.length === 1) return null;
  return (
    <label>
      {say('who.kind')}
      <select
        value={props.chosen}
        onChange={(event) => {
          props.onChoose(event.currentTarget.value);
        }}
      >
        <option value="">{props.none}</option>
        {kinds.map(({ system, label }) => (
          <option key={system} value={system}>
            {label}
          </option>
        ))}
      </select>
    </label>
  );
}
