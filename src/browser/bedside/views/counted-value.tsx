import type { JSX } from 'preact';
import type { CountSeconds } from '../form/count.js';
import type { Entry } from '../form/set-form.js';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { usePage } from '../parts/page-context.js';
import { fillEntry } from '../session/fill-form.js';
import { openCount } from '../session/run-count.js';
import { countText } from '../words/show-values.js';

/** A count with its sum, and whether the rhythm was regular; an irregular one is better counted a minute. */
export function CountedValue({ entry }: { entry: Entry }): JSX.Element {
  const { session, say } = usePage();
  const { counted } = entry;
  const open = (seconds?: CountSeconds) => (): void => {
    openCount(session, entry.id, seconds);
  };
  if (counted === null) {
    return (
      <Act main look="count-start" does={open()}>
        {say('count.open')}
      </Act>
    );
  }
  return (
    <div class="counted">
      <p class="big-value">{countText(counted, say)}</p>
      <Act does={open(counted.seconds)}>{say('count.anew')}</Act>
      <ChoiceRow
        legend={say('rhythm.ask')}
        choices={[
          { word: true, label: say('rhythm.regular') },
          { word: false, label: say('rhythm.irregular') },
        ]}
        chosen={entry.regular}
        onChoose={(regular) => {
          fillEntry(session, entry.id, { regular });
        }}
      />
      {entry.regular === false && counted.seconds < 60 && (
        <Act look="offer" does={open(60)}>
          {say('rhythm.count-minute')}
        </Act>
      )}
    </div>
  );
}
