import type { JSX } from 'preact';

export interface Choice<Word> {
  readonly word: Word;
  readonly label: string;
}

/** One of a few by one tap; a second tap takes it back, because nothing need be said. */
export function ChoiceRow<Word extends string | number | boolean>(props: {
  legend: string;
  choices: readonly Choice<Word>[];
  chosen: Word | null;
  onChoose: (word: Word | null) => void;
}): JSX.Element {
  const { legend, choices, chosen, onChoose } = props;
  return (
    <fieldset class="choices">
      <legend>{legend}</legend>
      <div class="chips">
        {choices.map(({ word, label }) => (
          <button
            key={String(word)}
            type="button"
            class="chip"
            aria-pressed={word === chosen}
            onClick={() => {
              onChoose(word === chosen ? null : word);
            }}
          >
            {label}
          </button>
        ))}
      </div>
    </fieldset>
  );
}
