/** What the forms of both pages of figures have in common. */
import type { ComponentChildren } from 'preact';
import { Field } from '../../pages/parts/form.js';
import type { Period } from './read-period.js';

export interface Choice {
  readonly value: string;
  readonly label: string;
}

interface SelectFacts {
  readonly name: string;
  readonly label: string;
  readonly chosen: string;
  readonly choices: readonly Choice[];
}

export function Select({ name, label, chosen, choices }: SelectFacts) {
  return (
    <Field id={name} label={label}>
      <select id={name} name={name}>
        {choices.map(({ value, label: words }) => (
          <option key={value} value={value} selected={value === chosen}>
            {words}
          </option>
        ))}
      </select>
    </Field>
  );
}

/** All, and what there is to choose from; what is chosen stays, also where nothing is found of it. */
export function orAll(found: readonly Choice[], chosen: string, all: string): Choice[] {
  const isThere = chosen === '' || found.some(({ value }) => value === chosen);
  return [
    { value: '', label: all },
    ...found,
    ...(isThere ? [] : [{ value: chosen, label: chosen }]),
  ];
}

export function Day({ name, label, value }: { name: 'from' | 'to'; label: string; value: string }) {
  return (
    <Field id={name} label={label}>
      <input id={name} name={name} type="date" value={value} required />
    </Field>
  );
}

interface FormFacts {
  readonly action: string;
  readonly period: Period;
  readonly children: ComponentChildren;
}

/** Asks by address, so that a report can be kept as a bookmark: nothing in it is about a patient. */
export function FiguresForm({ action, period, children }: FormFacts) {
  return (
    <form class="row figures-form no-print" method="get" action={action}>
      <Day name="from" label="From" value={period.from} />
      <Day name="to" label="To" value={period.to} />
      {children}
      <button type="submit" class="main">
        Show
      </button>
    </form>
  );
}
