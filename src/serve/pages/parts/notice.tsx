import type { ComponentChildren } from 'preact';

/** `done`: it worked; `note`: worth knowing; `caution`: look before you go on; `fault`: it did not work. */
export type NoticeKind = 'done' | 'note' | 'caution' | 'fault';

const WORDS: Readonly<Record<NoticeKind, string>> = {
  done: 'Done',
  note: 'Note',
  caution: 'Caution',
  fault: 'Not done',
};

interface NoticeFacts {
  readonly kind: NoticeKind;
  /** The word it begins with, where that of its kind does not fit. */
  readonly word?: string;
  readonly children: ComponentChildren;
}

/** A box that says by its first word, not only by its colour, what it is. Read out at once if it did not work. */
export function Notice({ kind, word, children }: NoticeFacts) {
  return (
    <div class={`notice ${kind}`} role={kind === 'fault' ? 'alert' : 'status'}>
      <strong>{word ?? WORDS[kind]}.</strong> {children}
    </div>
  );
}
