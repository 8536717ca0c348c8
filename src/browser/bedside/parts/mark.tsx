import type { JSX } from 'preact';
import type { EntryAnswer } from '../form/read-answer.js';
import type { Say } from '../words/say.js';
import { usePage } from './page-context.js';

/** How an answer is named: critical stands above the verdict. */
export type Tone = 'accepted' | 'noted' | 'held' | 'rejected' | 'critical';

const SIGNS: Readonly<Record<Tone, string>> = {
  accepted: '✓',
  noted: 'i',
  held: '↻',
  rejected: '✕',
  critical: '!',
};

export function toneOf({ verdict, critical }: EntryAnswer): Tone {
  return critical && verdict !== 'rejected' ? 'critical' : verdict;
}

export function toneText(tone: Tone, say: Say): string {
  return say(`tone.${tone}`);
}

/** A sign and a word: never the colour alone. */
export function Mark({ tone }: { tone: Tone }): JSX.Element {
  const { say } = usePage();
  return (
    <span class={`mark ${tone}`}>
      <span class="mark-sign" aria-hidden="true">
        {SIGNS[tone]}
      </span>
      {toneText(tone, say)}
    </span>
  );
}
