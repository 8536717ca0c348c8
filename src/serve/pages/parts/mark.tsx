/** A word in a small frame: what state something is in. The colour only repeats the word. */
export type MarkTone = 'plain' | 'good' | 'caution' | 'urgent';

interface MarkFacts {
  readonly tone?: MarkTone;
  readonly children: string;
}

export function Mark({ tone = 'plain', children }: MarkFacts) {
  return <span class={`mark ${tone}`}>{children}</span>;
}
