/** One trial: how far it is, what came of it, and what can be done with it. */
import type { TrialRecord, TrialState } from '../../../store/trials.js';
import type { SiteRules } from '../../../vitals/site-rules.js';
import { hasScope } from '../../auth/scopes.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { Mark } from '../../pages/parts/mark.js';
import type { MarkTone } from '../../pages/parts/mark.js';
import { countText, writeNumber } from '../../pages/parts/count-text.js';
import { Moment } from '../../pages/parts/moment.js';
import { Notice } from '../../pages/parts/notice.js';
import { actorText } from '../parts/actor-text.js';
import { ConfigurationTable } from './configuration-table.js';
import { EDITIONS_PATH, RuleSides, TRIALS_PATH } from './rule-sides.js';
import { Report } from './trial-report.js';

const STATE_WORDS: Readonly<Record<TrialState, string>> = {
  running: 'running',
  done: 'done',
  cancelled: 'cancelled',
  failed: 'failed',
  interrupted: 'interrupted',
};

const TONES: Readonly<Record<TrialState, MarkTone>> = {
  running: 'caution',
  done: 'good',
  cancelled: 'plain',
  failed: 'urgent',
  interrupted: 'urgent',
};

export function TrialMark({ state }: { state: TrialState }) {
  return <Mark tone={TONES[state]}>{STATE_WORDS[state]}</Mark>;
}

function Progress({ trial }: { trial: TrialRecord }) {
  const { setsJudged, setsTotal } = trial;
  const words =
    setsTotal === null
      ? `${countText(setsJudged, 'set')} judged`
      : `${countText(setsJudged, 'set')} of ${writeNumber(setsTotal)} judged`;
  return (
    <p>
      <label for="trial-progress">{words}</label>{' '}
      {setsTotal === null ? (
        <progress id="trial-progress" />
      ) : (
        <progress id="trial-progress" value={setsJudged} max={Math.max(setsTotal, 1)} />
      )}
    </p>
  );
}

function Cancel({ trial, caller }: { trial: TrialRecord; caller: SignedIn }) {
  return (
    <form method="post" action={`${TRIALS_PATH}/${trial.trialId}/cancel`}>
      <CsrfField caller={caller} />
      <p>
        <button type="submit">Stop it</button>{' '}
        <a href={`${TRIALS_PATH}/${trial.trialId}`}>Look again</a>
      </p>
    </form>
  );
}

function Propose({ trial, caller }: { trial: TrialRecord; caller: SignedIn }) {
  return (
    <form method="post" action={EDITIONS_PATH}>
      <CsrfField caller={caller} />
      <input type="hidden" name="trial" value={trial.trialId} />
      <h2>Propose it as an edition</h2>
      <Field id="propose-reason" label="Reason">
        <textarea id="propose-reason" name="reason" rows={2} required maxLength={500} />
      </Field>
      <Field
        id="propose-from"
        label="In force from"
        hint="Empty: when it is approved. Another person must approve it."
      >
        <input
          id="propose-from"
          name="from"
          type="datetime-local"
          aria-describedby="propose-from-hint"
        />
      </Field>
      <p>
        <button type="submit">Propose it</button>
      </p>
    </form>
  );
}

const ENDINGS: Readonly<Partial<Record<TrialState, string>>> = {
  cancelled: 'It was stopped. What it had found until then stands below.',
  failed:
    'It failed. What it had found until then stands below; the log of the gateway has the cause.',
  interrupted: 'The gateway was stopped meanwhile. Start the trial again.',
};

export interface ShownTrial {
  readonly trial: TrialRecord;
  /** What judges now. */
  readonly inForce: Partial<SiteRules>;
  readonly zone: string;
}

function Standing({ shown, caller }: { shown: ShownTrial; caller: SignedIn }) {
  const { trial } = shown;
  const ending = ENDINGS[trial.state];
  return (
    <div
      id="trial"
      tabIndex={-1}
      {...(trial.state === 'running' && { 'data-follow': `${TRIALS_PATH}/${trial.trialId}` })}
    >
      <p>
        <TrialMark state={trial.state} />
      </p>
      {trial.state === 'running' && (
        <>
          <Progress trial={trial} />
          <Cancel {...{ trial, caller }} />
        </>
      )}
      {ending !== undefined && <Notice kind="caution">{ending}</Notice>}
      {trial.result !== null && <Report report={trial.result} />}
      {trial.state !== 'running' && (
        <p>
          <a href={`${TRIALS_PATH}/new?base=${trial.trialId}`}>Change something further</a>
        </p>
      )}
      {trial.state === 'done' && hasScope(caller.scopes, 'rules.write') && (
        <Propose {...{ trial, caller }} />
      )}
    </div>
  );
}

export function TrialContent({ shown, caller }: { shown: ShownTrial; caller: SignedIn }) {
  const { trial, inForce, zone } = shown;
  return (
    <>
      <RuleSides caller={caller} here="trials" />
      <p>
        Sets received from <Moment atMs={trial.fromMs} zone={zone} /> until{' '}
        <Moment atMs={trial.toMs} zone={zone} />; asked for by {actorText(trial.requestedBy)},{' '}
        <Moment atMs={trial.requestedMs} zone={zone} />.
      </p>
      <ConfigurationTable
        caption="What was tried"
        configuration={trial.configuration}
        inForce={inForce}
      />
      <Standing {...{ shown, caller }} />
    </>
  );
}
