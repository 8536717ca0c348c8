import type { ComponentChildren, JSX } from 'preact';
import { usePage } from '../parts/page-context.js';

/** One identifier to be confirmed by a tap of its own. */
export function Confirming(props: {
  confirmed: boolean;
  onToggle: (confirmed: boolean) => void;
  children: ComponentChildren;
}): JSX.Element {
  const { say } = usePage();
  return (
    <button
      type="button"
      class="confirming"
      aria-pressed={props.confirmed}
      onClick={() => {
        props.onToggle(!props.confirmed);
      }}
    >
      <span class="confirming-sign" aria-hidden="true">
        {props.confirmed ? '✓' : ''}
      </span>
      <span class="confirming-words">
        {props.children}
        <span class="quiet">{say(props.confirmed ? 'who.agrees' : 'who.tap-if-agrees')}</span>
      </span>
    </button>
  );
}
