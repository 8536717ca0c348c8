import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { ChosenPatient } from '../form/set-form.js';
import { leavePatient } from '../session/choose-patient.js';
import { goTo } from '../session/go-to.js';
import type { PageState } from '../session/page-state.js';
import { dateText } from '../words/show-values.js';
import { Act } from './act.js';
import { usePage } from './page-context.js';

/** Whose set it is, always in sight; how many sets wait; the menu. */
export function TopBar(): JSX.Element {
  const { state, say } = usePage();
  const inside = state.person !== null && state.view.name !== 'still-you';
  return (
    <header class="top-bar">
      <Patient />
      <div class="top-acts">
        {state.waiting > 0 && (
          <Act look="waiting" disabled={!inside} does={goTo({ name: 'outbox' })}>
            {say('outbox.open', { count: state.waiting })}
          </Act>
        )}
        {inside && <Act does={goTo({ name: 'menu' })}>{say('menu.open')}</Act>}
      </div>
    </header>
  );
}

/** Of a set that was sent: whose answer is shown. */
function sentInView({ view, sent }: PageState): ChosenPatient | null {
  if (view.name !== 'sent' && view.name !== 'decide') return null;
  return sent.find(({ setId }) => setId === view.setId)?.form.patient ?? null;
}

function Identity({ patient }: { patient: ChosenPatient }): JSX.Element {
  const { preferences } = usePage();
  const { claimed, found } = patient;
  const born = found?.birthDate ?? claimed.birthDate;
  const name = found?.familyName ?? claimed.familyName;
  const names = [name, found?.givenNames.join(' ')].filter(Boolean).join(', ');
  return (
    <>
      <span class="patient-name">{names || claimed.identifier.value}</span>
      <span class="patient-rest">
        {born !== undefined && <span>{dateText(born, preferences.language)}</span>}
        <span>{claimed.identifier.value}</span>
      </span>
    </>
  );
}

function Patient(): JSX.Element {
  const { state, say } = usePage();
  const [leaving, setLeaving] = useState(false);
  const shown = sentInView(state);
  if (shown !== null) {
    return (
      <div class="patient">
        <Identity patient={shown} />
      </div>
    );
  }
  if (state.form === null) return <p class="patient none">{say('patient.none')}</p>;
  return (
    <div class="patient">
      <button
        type="button"
        class="patient-button"
        aria-expanded={leaving}
        onClick={() => {
          setLeaving(!leaving);
        }}
      >
        <Identity patient={state.form.patient} />
        <span class="only-heard">{say('patient.change')}</span>
      </button>
      {leaving && (
        <div class="leaving" role="group" aria-label={say('patient.leave')}>
          <p>{say('patient.leave-warning')}</p>
          <div class="acts-row">
            <Act
              does={() => {
                setLeaving(false);
              }}
            >
              {say('patient.stay')}
            </Act>
            <Act
              grave
              does={(session) => {
                setLeaving(false);
                return leavePatient(session);
              }}
            >
              {say('patient.leave')}
            </Act>
          </div>
        </div>
      )}
    </div>
  );
}
