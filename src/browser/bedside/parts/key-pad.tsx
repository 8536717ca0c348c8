import type { JSX } from 'preact';
import { KEYS, type Key } from '../form/key-pad.js';
import { usePage } from './page-context.js';

/** Large keys for gloved fingers. They do not take the focus from the field that they fill. */
export function KeyPad(props: {
  onKey: (key: Key) => void;
  hasPoint: boolean;
  next: string;
  onNext: () => void;
}): JSX.Element {
  const { say } = usePage();
  const labels: Partial<Record<Key, string>> = { point: say('key.point'), back: say('key.back') };
  return (
    <div class="key-pad" role="group" aria-label={say('key.pad')}>
      {KEYS.map((key) => (
        <button
          key={key}
          type="button"
          class="key"
          aria-label={labels[key]}
          disabled={key === 'point' && !props.hasPoint}
          onPointerDown={(event) => {
            event.preventDefault();
          }}
          onClick={() => {
            props.onKey(key);
          }}
        >
          {key === 'point' ? say('key.point-sign') : key === 'back' ? '⌫' : key}
        </button>
      ))}
      <button type="button" class="key key-next" onClick={props.onNext}>
        {props.next}
      </button>
    </div>
  );
}
