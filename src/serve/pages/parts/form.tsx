/** Bits that forms share. */
import type { ComponentChildren } from 'preact';
import type { SignedIn } from '../../http/route.js';

/** Stands in every form that changes something: without it the form is refused. */
export function CsrfField({ caller }: { caller: SignedIn }) {
  return <input type="hidden" name="csrf" value={caller.session.csrfToken} />;
}

interface FieldFacts {
  /** Of the input inside: it ties the words to it. */
  readonly id: string;
  readonly label: string;
  /** What to put in, under the input; the input names it by `aria-describedby={ID-hint}`. */
  readonly hint?: string;
  /** What is wrong with what was put in; the input names it by `aria-describedby={ID-fault}`. */
  readonly fault?: string | undefined;
  /** Takes the whole width of its row: for what has long words to choose from. */
  readonly whole?: boolean;
  readonly children: ComponentChildren;
}

/** An input with its label, a hint, and what is wrong with it. */
export function Field({ id, label, hint, fault, whole, children }: FieldFacts) {
  return (
    <div class={whole === true ? 'field whole' : 'field'}>
      <label for={id}>{label}</label>
      {children}
      {hint !== undefined && (
        <p class="hint" id={`${id}-hint`}>
          {hint}
        </p>
      )}
      {fault !== undefined && (
        <p class="fault" id={`${id}-fault`}>
          <strong>Wrong:</strong> {fault}
        </p>
      )}
    </div>
  );
}
