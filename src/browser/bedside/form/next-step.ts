/** Order is a help: the next usual step that nobody has filled or skipped, wherever one is now. */
import { isFilled } from './change-form.js';
import type { SetForm } from './set-form.js';
import { STEPS, type StepId } from './steps.js';

/** Null: none is left, and the set can be looked over. */
export function nextStep({ entries }: SetForm, from: StepId | null): StepId | null {
  const usual = STEPS.filter((step) => step.usual).map(({ id }) => id);
  const open = usual.filter(
    (id) => id !== from && !entries.some((entry) => entry.step === id && isFilled(entry)),
  );
  const after = from === null ? -1 : usual.indexOf(from);
  return open.find((id) => usual.indexOf(id) > after) ?? open[0] ?? null;
}
