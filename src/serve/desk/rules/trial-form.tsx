/** The form that a change is tried with. */
import type { SettingDescription } from '../../../vitals/describe-settings.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import type { ChangeFields } from './change-configuration.js';
import { TRIALS_PATH } from './rule-sides.js';

export const MOST_DAYS = 90;

/** What the form holds; as it was sent, where it is shown again with its faults. */
export interface TrialFields extends ChangeFields {
  readonly days: string;
  /** Id of the trial whose configuration is changed further; empty: that in force. */
  readonly base: string;
}

export interface TrialFormFacts {
  readonly caller: SignedIn;
  readonly fields: TrialFields;
  readonly settings: readonly SettingDescription[];
  /** Ids of rules that may be switched off, and of those that are. */
  readonly notes: readonly string[];
  readonly off: readonly string[];
}

function Limit({ fields, settings }: TrialFormFacts) {
  const chosen = settings.find(({ id }) => id === fields.setting);
  return (
    <fieldset>
      <legend>A number</legend>
      <div class="row">
        <Field
          id="trial-setting"
          label="Which"
          whole
          {...(chosen !== undefined && {
            hint: `${chosen.words} Now ${chosen.at} ${chosen.unit}, by default ${chosen.default.at}.`,
          })}
        >
          <select
            id="trial-setting"
            name="setting"
            aria-describedby={chosen === undefined ? undefined : 'trial-setting-hint'}
          >
            <option value="">none</option>
            {settings.map(({ id, at, unit }) => (
              <option key={id} value={id} selected={id === fields.setting}>
                {`${id} (now ${at} ${unit})`}
              </option>
            ))}
          </select>
        </Field>
        <Field id="trial-at" label="New number" hint="In the unit of the setting.">
          <input
            id="trial-at"
            name="at"
            inputMode="decimal"
            value={fields.at}
            maxLength={20}
            aria-describedby="trial-at-hint"
          />
        </Field>
        <Field id="trial-document" label="Source: document">
          <input id="trial-document" name="document" value={fields.document} maxLength={200} />
        </Field>
        <Field id="trial-section" label="Source: section">
          <input id="trial-section" name="section" value={fields.section} maxLength={200} />
        </Field>
        <Field id="trial-year" label="Source: year">
          <input
            id="trial-year"
            name="year"
            inputMode="numeric"
            value={fields.year}
            maxLength={4}
          />
        </Field>
      </div>
    </fieldset>
  );
}

function Choice(facts: {
  id: string;
  name: string;
  label: string;
  value: string;
  none: string;
  options: readonly (readonly [value: string, label: string])[];
}) {
  return (
    <Field id={facts.id} label={facts.label}>
      <select id={facts.id} name={facts.name}>
        <option value="">{facts.none}</option>
        {facts.options.map(([value, label]) => (
          <option key={value} value={value} selected={value === facts.value}>
            {label}
          </option>
        ))}
      </select>
    </Field>
  );
}

function Switches({ fields, notes, off }: TrialFormFacts) {
  const named = (ids: readonly string[]) => ids.map((id) => [id, id] as const);
  return (
    <fieldset>
      <legend>Switches</legend>
      <div class="row">
        <Choice
          {...{ id: 'trial-off', name: 'off', label: 'Switch off the note', value: fields.off }}
          none="none"
          options={named(notes)}
        />
        {off.length > 0 && (
          <Choice
            {...{ id: 'trial-on', name: 'on', label: 'Switch on again', value: fields.on }}
            none="none"
            options={named(off)}
          />
        )}
        <Choice
          {...{ id: 'trial-derived', name: 'derived', label: 'Calculated values' }}
          value={fields.derived}
          none="as it is"
          options={[
            ['on', 'calculate them'],
            ['off', 'do not calculate them'],
          ]}
        />
      </div>
    </fieldset>
  );
}

export function TrialForm(facts: TrialFormFacts) {
  const { caller, fields } = facts;
  return (
    <form method="post" action={TRIALS_PATH}>
      <CsrfField caller={caller} />
      <input type="hidden" name="base" value={fields.base} />
      <Limit {...facts} />
      <Switches {...facts} />
      <div class="row">
        <Field
          id="trial-days"
          label="Try it on the sets of the last days"
          hint={`1 to ${MOST_DAYS}.`}
        >
          <input
            {...{ id: 'trial-days', name: 'days', type: 'number', min: 1, max: MOST_DAYS }}
            value={fields.days}
            aria-describedby="trial-days-hint"
            required
          />
        </Field>
        <Field id="trial-name" label="Name of the site">
          <input id="trial-name" name="name" value={fields.name} maxLength={200} required />
        </Field>
      </div>
      <p>
        <button type="submit">Try it</button>
      </p>
      <p class="hint">
        Each set is judged again in memory, as it was and with the change. Nothing that is stored or
        published is touched.
      </p>
    </form>
  );
}
