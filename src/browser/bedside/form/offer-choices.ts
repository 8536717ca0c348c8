/** The last choice of a kind of step is offered again by one tap; it is never assumed. */
import { NO_CHOICES, type Choices, type Entry } from './set-form.js';
import { stepOf } from './steps.js';

/** By the kind of step that shares them (`Step.habit`). */
export type Habits = Readonly<Partial<Record<string, Choices>>>;

function choicesOf({ method, site, side, cuffSize }: Entry): Choices {
  return { method, site, side, cuffSize };
}

export function noteChoices(habits: Habits, entry: Entry): Habits {
  return { ...habits, [stepOf(entry.step).habit]: choicesOf(entry) };
}

/** What was chosen last and would change this entry; null: nothing to offer. */
export function offerChoices(habits: Habits, entry: Entry): Choices | null {
  const step = stepOf(entry.step);
  const last = habits[step.habit];
  if (last === undefined) return null;
  const way =
    step.ways.length > 1
      ? step.ways.find(({ method }) => method === (entry.method ?? last.method))
      : step.ways[0];
  if (way === undefined) return null;
  const offered: Choices = {
    method: way.method,
    site: way.sites.find((site) => site === last.site) ?? null,
    side: step.hasSide ? last.side : null,
    cuffSize: step.hasCuff ? last.cuffSize : null,
  };
  const now = choicesOf(entry);
  const merged = { ...offered, ...told(now) };
  return JSON.stringify(merged) === JSON.stringify({ ...NO_CHOICES, ...now }) ? null : merged;
}

/** What this entry says already stays. */
function told(choices: Choices): Partial<Choices> {
  return Object.fromEntries(Object.entries(choices).filter(([, value]) => value !== null));
}
