import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { AnsweredReading, DecideOutcome, OwnDecision } from '../door.js';
import { readingsOf } from '../form/build-set.js';
import type { Entry } from '../form/set-form.js';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { Heading } from '../parts/heading.js';
import { usePage } from '../parts/page-context.js';
import { decide } from '../session/decide-reading.js';
import { goTo } from '../session/go-to.js';
import type { SentSet } from '../session/page-state.js';
import type { Session } from '../session/surroundings.js';
import { CorrectedEntry } from './corrected-entry.js';
import { Refused } from './sent-view.js';

/** Why a person changes what that person sent (`vitals/decisions.ts` has them all). */
const REASONS = [
  'entry-error',
  'unit-error',
  'method-or-site-error',
  'wrong-patient',
  'poor-signal',
  'device-fault',
  'duplicate',
  'other',
] as const;
type ReasonWord = (typeof REASONS)[number];

export function DecideView(props: { setId: string; index: number }): JSX.Element | null {
  const { state } = usePage();
  const sent = state.sent.find(({ setId }) => setId === props.setId);
  if (sent?.outcome.state !== 'answered') return null;
  const reading = sent.outcome.answer.readings.find(({ index }) => index === props.index);
  const entryId = sent.entryIds[props.index];
  const entry = sent.form.entries.find(({ id }) => id === entryId);
  if (reading === undefined || entry === undefined) return null;
  return <Deciding sent={sent} reading={reading} entry={entry} />;
}

interface Draft {
  readonly action: 'correct' | 'withdraw' | null;
  readonly entry: Entry;
  readonly reason: ReasonWord | null;
  readonly words: string;
}

/** Corrected or withdrawn, always with a reason. Nothing is deleted. */
function Deciding(props: { sent: SentSet; reading: AnsweredReading; entry: Entry }): JSX.Element {
  const { say } = usePage();
  const { sent, reading, entry } = props;
  const [draft, setDraft] = useState<Draft>({ action: null, entry, reason: null, words: '' });
  const [outcome, setOutcome] = useState<DecideOutcome | null>(null);
  const change = (part: Partial<Draft>): void => {
    setDraft((before) => ({ ...before, ...part }));
  };
  return (
    <section class="decide">
      <Heading>{say('decide.title', { vital: say(`vital.${reading.vital}`) })}</Heading>
      <ChoiceRow
        legend={say('decide.what')}
        choices={(['correct', 'withdraw'] as const).map((word) => ({
          word,
          label: say(`decide.${word}`),
        }))}
        chosen={draft.action}
        onChoose={(action) => {
          change({ action });
        }}
      />
      {draft.action === 'correct' && (
        <CorrectedEntry
          entry={draft.entry}
          vital={reading.vital}
          onChange={(corrected) => {
            change({ entry: corrected });
          }}
        />
      )}
      <Reason draft={draft} change={change} />
      <div role="status">
        {outcome?.state === 'refused' && <Refused problem={outcome.problem} />}
        {outcome?.state === 'not-sent' && <p class="notice">{say('decide.not-sent')}</p>}
      </div>
      <div class="acts">
        <div class="acts-row">
          <Act does={goTo({ name: 'sent', setId: sent.setId })}>{say('back')}</Act>
          <DecideAct sent={sent} reading={reading} draft={draft} onTold={setOutcome} />
        </div>
      </div>
    </section>
  );
}

function Reason(props: { draft: Draft; change: (part: Partial<Draft>) => void }): JSX.Element {
  const { say } = usePage();
  const { draft, change } = props;
  return (
    <>
      <ChoiceRow
        legend={say('decide.why')}
        choices={REASONS.map((word) => ({ word, label: say(`reason.${word}`) }))}
        chosen={draft.reason}
        onChoose={(reason) => {
          change({ reason });
        }}
      />
      <label>
        {say('decide.words')}
        <textarea
          rows={2}
          maxLength={500}
          value={draft.words}
          onInput={(event) => {
            change({ words: event.currentTarget.value });
          }}
        />
      </label>
    </>
  );
}

function DecideAct(props: {
  sent: SentSet;
  reading: AnsweredReading;
  draft: Draft;
  onTold: (outcome: DecideOutcome) => void;
}): JSX.Element {
  const { state, say } = usePage();
  const [busy, setBusy] = useState(false);
  const { sent, reading, draft, onTold } = props;
  const { action, entry, reason, words } = draft;
  const { takenAt } = entry;
  const corrected = readingsOf(entry, state.site.units).find(
    ({ vital }) => vital === reading.vital,
  );
  const submit = async (session: Session): Promise<void> => {
    if (busy || action === null || reason === null) return;
    setBusy(true);
    const decision: OwnDecision = {
      action,
      reason: words.trim() === '' ? say(`reason.${reason}`) : words.trim(),
      reasonCode: reason,
      expectedVersion: reading.version ?? 1,
      ...(action === 'correct' &&
        corrected !== undefined && {
          reading: { ...corrected, ...(takenAt !== null && { takenAt }) },
        }),
    };
    onTold(await decide(session, sent.setId, reading.index, decision));
    setBusy(false);
  };
  const told = action === 'withdraw' || (action === 'correct' && corrected !== undefined);
  return (
    <Act main disabled={!told || reason === null || busy} does={submit}>
      {say(action === 'withdraw' ? 'decide.withdraw' : 'decide.correct')}
    </Act>
  );
}
