import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { PracticeOutcome } from '../door.js';
import { writtenNumber } from '../form/key-pad.js';
import { Act } from '../parts/act.js';
import { ChoiceRow } from '../parts/choice-row.js';
import { Heading } from '../parts/heading.js';
import { NumberLine } from '../parts/number-line.js';
import { usePage } from '../parts/page-context.js';
import { goTo } from '../session/go-to.js';
import { Compared } from './practice-result.js';
import { Refused } from './sent-view.js';

const PARTS = ['systolic', 'diastolic'] as const;
const METHODS = ['auscultation', 'oscillometry'] as const;
const DIGITS = { whole: 3, decimals: 0 };
type Pressures = Readonly<Record<(typeof PARTS)[number], string>>;
const NONE: Pressures = { systolic: '', diastolic: '' };

interface Attempt {
  readonly method: (typeof METHODS)[number] | null;
  readonly read: Pressures;
  /** What the practice arm was set to: asked for only when the reading stands. */
  readonly known: Pressures | null;
  readonly outcome: PracticeOutcome | null;
}
const FIRST: Attempt = { method: null, read: NONE, known: null, outcome: null };

/** Against a practice arm: first what was read, then what it was set to. Nobody's chart. */
export function PracticeView(): JSX.Element {
  const { say } = usePage();
  const [attempt, setAttempt] = useState(FIRST);
  const change = (part: Partial<Attempt>): void => {
    setAttempt((before) => ({ ...before, ...part }));
  };
  const { method, read, known, outcome } = attempt;
  return (
    <section class="practice">
      <Heading>{say('practice.title')}</Heading>
      <p class="practice-banner">{say('practice.banner')}</p>
      <ChoiceRow
        legend={say('choice.method')}
        choices={METHODS.map((word) => ({ word, label: say(`method.${word}`) }))}
        chosen={method}
        onChoose={(chosen) => {
          change({ method: chosen });
        }}
      />
      <PressureLines
        legend={say('practice.read')}
        pressures={read}
        onChange={(pressures) => {
          change({ read: pressures });
        }}
      />
      {known !== null && (
        <PressureLines
          legend={say('practice.known')}
          pressures={known}
          onChange={(pressures) => {
            change({ known: pressures });
          }}
        />
      )}
      <div role="status">
        {outcome?.state === 'compared' && <Compared outcome={outcome} />}
        {outcome?.state === 'refused' && <Refused problem={outcome.problem} />}
        {outcome?.state === 'not-sent' && <p class="notice">{say('practice.not-sent')}</p>}
      </div>
      <div class="acts">
        <div class="acts-row">
          <Act does={goTo({ name: 'who' })}>{say('practice.leave')}</Act>
          <NextAct attempt={attempt} change={change} />
        </div>
      </div>
    </section>
  );
}

function NextAct(props: {
  attempt: Attempt;
  change: (part: Partial<Attempt>) => void;
}): JSX.Element {
  const { session, say } = usePage();
  const [busy, setBusy] = useState(false);
  const { attempt, change } = props;
  const { method, read, known, outcome } = attempt;
  const compare = async (): Promise<void> => {
    if (busy || method === null || known === null) return;
    setBusy(true);
    const way = { vital: 'blood-pressure', method, site: 'upper-arm' } as const;
    const reading = { ...way, ...numbers(read), unit: 'mm[Hg]' };
    change({ outcome: await session.around.door.practice(reading, numbers(known)) });
    setBusy(false);
  };
  const toKnown = (): void => {
    change({ known: NONE });
  };
  const onceMore = (): void => {
    change({ ...FIRST, method });
  };
  const isRead = method !== null && isWhole(read);
  if (outcome?.state === 'compared') {
    return (
      <Act main does={onceMore}>
        {say('practice.again')}
      </Act>
    );
  }
  return known === null ? (
    <Act main disabled={!isRead} does={toKnown}>
      {say('practice.to-known')}
    </Act>
  ) : (
    <Act main disabled={!isRead || !isWhole(known) || busy} does={compare}>
      {say('practice.compare')}
    </Act>
  );
}

function isWhole(pressures: Pressures): boolean {
  return PARTS.every((part) => writtenNumber(pressures[part]) !== null);
}

function numbers(pressures: Pressures): Record<string, number | string> {
  return Object.fromEntries(PARTS.map((part) => [part, writtenNumber(pressures[part]) ?? 0]));
}

function PressureLines(props: {
  legend: string;
  pressures: Pressures;
  onChange: (pressures: Pressures) => void;
}): JSX.Element {
  const { say } = usePage();
  const { legend, pressures, onChange } = props;
  return (
    <fieldset class="pressures">
      <legend>{legend}</legend>
      {PARTS.map((part) => (
        <NumberLine
          key={part}
          label={`${say(`field.${part}`)} (mmHg)`}
          text={pressures[part]}
          digits={DIGITS}
          onType={(text) => {
            onChange({ ...pressures, [part]: text });
          }}
        />
      ))}
    </fieldset>
  );
}
