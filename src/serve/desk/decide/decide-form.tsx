/** The form by which one reading is decided about, on its own page. */
import { CATALOGUE } from '../../../vitals/catalogue.js';
import type { DecisionAction } from '../../../vitals/decisions.js';
import type { ReadingVersion } from '../../../vitals/shapes.js';
import { CONSCIOUSNESS_CODES, POSITIONS, SIDES } from '../../../vitals/words.js';
import type { SignedIn } from '../../http/route.js';
import { Field } from '../../pages/parts/form.js';
import { wordText } from '../../pages/parts/value-text.js';
import { ReasonFields } from './reason-fields.js';

interface DecideFormFacts {
  readonly version: ReadingVersion;
  readonly actions: readonly DecisionAction[];
  readonly caller: SignedIn;
  /** What was put in before, where it could not be carried out. */
  readonly given: URLSearchParams | null;
}

type Ask = (name: string, otherwise: string) => string;

function Choice({
  name,
  label,
  words,
  chosen,
}: {
  name: string;
  label: string;
  words: readonly string[];
  chosen: string;
}) {
  return (
    <Field id={name} label={label}>
      <select id={name} name={name}>
        <option value="">not told</option>
        {words.map((word) => (
          <option key={word} value={word} selected={word === chosen}>
            {wordText(word)}
          </option>
        ))}
      </select>
    </Field>
  );
}

function Numbers({ version, ask }: { version: ReadingVersion; ask: Ask }) {
  const { values, unitsTaken, unit } = CATALOGUE[version.vital];
  return (
    <>
      {values.map((part) => (
        <Field key={part} id={part} label={part === 'value' ? 'Value' : wordText(part)}>
          <input
            id={part}
            name={part}
            inputMode="decimal"
            pattern="[0-9]+([.][0-9]+)?"
            maxLength={12}
            size={8}
            value={ask(part, version.values[part] ?? '')}
          />
        </Field>
      ))}
      <Field id="unit" label="Unit">
        <select id="unit" name="unit">
          {unitsTaken.map((one) => (
            <option key={one} value={one} selected={one === ask('unit', unit ?? '')}>
              {one}
            </option>
          ))}
        </select>
      </Field>
    </>
  );
}

/** The whole reading as it should have been; what is not asked for here stays as it was. */
function Correction({ version, ask }: { version: ReadingVersion; ask: Ask }) {
  const { form, methodsTaken, sitesTaken } = CATALOGUE[version.vital];
  return (
    <fieldset class="correction">
      <legend>If you correct it: the reading as it should have been</legend>
      <div class="row">
        {form === 'code' ? (
          <Choice
            name="code"
            label="State"
            words={CONSCIOUSNESS_CODES}
            chosen={ask('code', version.code ?? '')}
          />
        ) : (
          <Numbers version={version} ask={ask} />
        )}
        <Choice
          name="method"
          label="Method"
          words={methodsTaken}
          chosen={ask('method', version.method ?? '')}
        />
        {sitesTaken.length > 0 && (
          <>
            <Choice
              name="site"
              label="Site"
              words={sitesTaken}
              chosen={ask('site', version.site ?? '')}
            />
            <Choice
              name="side"
              label="Side"
              words={SIDES}
              chosen={ask('side', version.side ?? '')}
            />
          </>
        )}
        <Choice
          name="position"
          label="Position"
          words={POSITIONS}
          chosen={ask('position', version.position ?? '')}
        />
      </div>
    </fieldset>
  );
}

function Whose({ version, ask }: { version: ReadingVersion; ask: Ask }) {
  return (
    <fieldset class="correction">
      <legend>If it is another patient’s, or you assign it: whose it is</legend>
      <div class="row">
        <Field id="patient-system" label="Number is of">
          <input
            id="patient-system"
            name="patientSystem"
            maxLength={500}
            size={28}
            value={ask('patientSystem', version.patient.identifier.system)}
          />
        </Field>
        <Field id="patient-value" label="Number">
          <input
            id="patient-value"
            name="patientValue"
            maxLength={100}
            size={14}
            autocomplete="off"
            value={ask('patientValue', '')}
          />
        </Field>
        <Field id="patient-born" label="Born" hint="Year, month, day">
          <input
            id="patient-born"
            name="patientBorn"
            maxLength={10}
            size={12}
            placeholder="1958-11-02"
            autocomplete="off"
            value={ask('patientBorn', '')}
          />
        </Field>
      </div>
    </fieldset>
  );
}

export function DecideForm({ version, actions, caller, given }: DecideFormFacts) {
  const ask: Ask = (name, otherwise) => given?.get(name) ?? otherwise;
  const can = (action: DecisionAction): boolean => actions.includes(action);
  return (
    <form
      id="decide"
      class="decide no-print"
      method="post"
      action={`/desk/readings/${version.readingId}/decisions`}
    >
      <input type="hidden" name="expectedVersion" value={String(version.version)} />
      <ReasonFields
        caller={caller}
        id="decide"
        actions={actions}
        chosen={{
          action: ask('action', ''),
          reasonCode: ask('reasonCode', ''),
          reason: ask('reason', ''),
        }}
      />
      {(can('correct') || can('assign')) && (
        <details open={['correct', 'assign'].includes(ask('action', ''))}>
          <summary>Another value, or another patient</summary>
          {can('correct') && <Correction version={version} ask={ask} />}
          <Whose version={version} ask={ask} />
        </details>
      )}
      <button type="submit" class="main">
        Decide
      </button>
    </form>
  );
}
