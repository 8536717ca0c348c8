import type { JSX } from 'preact';
import { usePage } from './page-context.js';

/** Of which kind a number is: the site's own systems of identifiers. None to choose where there is one. */
export function KindChoice(props: {
  chosen: string;
  /** What stands there while none is chosen. */
  none: string;
  onChoose: (system: string) => void;
}): JSX.Element | null {
  const { state, say } = usePage();
  const kinds = state.site.identifierSystems;
  if (kinds.length < 2) return null;
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
