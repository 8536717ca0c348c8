import type { ComponentChildren, JSX } from 'preact';
import type { Session } from '../session/surroundings.js';
import { usePage } from './page-context.js';

/** A button. */
export function Act(props: {
  does: (session: Session) => unknown;
  children: ComponentChildren;
  /** The one that comes next. */
  main?: boolean;
  /** One that takes something away. */
  grave?: boolean;
  look?: string;
  disabled?: boolean;
  pressed?: boolean;
  expanded?: boolean;
}): JSX.Element {
  const { session } = usePage();
  const { does, children, main = false, grave = false, look = '' } = props;
  const looks = [main ? 'main-act' : '', grave ? 'grave' : '', look].filter(Boolean).join(' ');
  return (
    <button
      type="button"
      class={looks || undefined}
      disabled={props.disabled}
      aria-pressed={props.pressed}
      aria-expanded={props.expanded}
      onClick={() => {
        does(session);
      }}
    >
      {children}
    </button>
  );
}
