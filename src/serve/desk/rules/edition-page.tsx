/** One edition: what it says, who proposed it and who decided, and the forms to decide. */
import { editionName } from '../../../vitals/answers.js';
import type { EditionRecord } from '../../../store/editions.js';
import { hasScope } from '../../auth/scopes.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { Mark } from '../../pages/parts/mark.js';
import type { MarkTone } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Notice } from '../../pages/parts/notice.js';
import type { EditionStanding } from '../../rules/edition-state.js';
import { actorText } from '../parts/actor-text.js';
import { ConfigurationTable } from './configuration-table.js';
import { EDITIONS_PATH, RuleSides } from './rule-sides.js';

export const STANDING_WORDS: Readonly<Record<EditionStanding, string>> = {
  proposed: 'proposed',
  refused: 'refused',
  'in-force': 'in force',
  scheduled: 'approved, not in force yet',
  past: 'past',
};

const TONES: Readonly<Record<EditionStanding, MarkTone>> = {
  proposed: 'caution',
  refused: 'plain',
  'in-force': 'good',
  scheduled: 'good',
  past: 'plain',
};

export function Standing({ standing }: { standing: EditionStanding }) {
  return <Mark tone={TONES[standing]}>{STANDING_WORDS[standing]}</Mark>;
}

export interface ShownEdition {
  readonly edition: EditionRecord;
  readonly standing: EditionStanding;
  /** The edition that judges now. */
  readonly inForce: EditionRecord;
  readonly zone: string;
}

/** Null: from the beginning. */
export function InForceFrom({ edition, zone }: Pick<ShownEdition, 'edition' | 'zone'>) {
  const { inForceFromMs } = edition;
  if (inForceFromMs === null) return <>–</>;
  if (!Number.isFinite(inForceFromMs)) return <>from the beginning</>;
  return <Moment atMs={inForceFromMs} zone={zone} seconds />;
}

function Facts({ edition, standing, zone }: ShownEdition) {
  const { decidedMs, wantedFromMs, decisionReason } = edition;
  return (
    <dl class="facts">
      <dt>Stands as</dt>
      <dd>
        <Standing standing={standing} />
      </dd>
      <dt>Proposed by</dt>
      <dd>
        {actorText(edition.proposedBy)}, <Moment atMs={edition.proposedMs} zone={zone} />:{' '}
        {edition.reason}
      </dd>
      {wantedFromMs !== null && (
        <>
          <dt>Wanted from</dt>
          <dd>
            <Moment atMs={wantedFromMs} zone={zone} />
          </dd>
        </>
      )}
      {decidedMs !== null && (
        <>
          <dt>{edition.state === 'refused' ? 'Refused by' : 'Put into force by'}</dt>
          <dd>
            {actorText(edition.decidedBy)}, <Moment atMs={decidedMs} zone={zone} />:{' '}
            {decisionReason}
          </dd>
        </>
      )}
      <dt>Judges from</dt>
      <dd>
        <InForceFrom {...{ edition, zone }} />
      </dd>
    </dl>
  );
}

function isOwn({ proposedBy }: EditionRecord, { person }: SignedIn): boolean {
  const proposer = proposedBy?.person;
  return proposer?.system === person.system && proposer.value === person.value;
}

function Reason({ id }: { id: string }) {
  return (
    <Field id={id} label="Reason">
      <textarea id={id} name="reason" rows={2} required maxLength={500} />
    </Field>
  );
}

function Approve({ edition, caller }: { edition: EditionRecord; caller: SignedIn }) {
  if (isOwn(edition, caller)) {
    return (
      <Notice kind="note">You proposed this edition: another person must put it into force.</Notice>
    );
  }
  return (
    <form method="post" action={`${EDITIONS_PATH}/${edition.number}/approve`}>
      <CsrfField caller={caller} />
      <h2>Put it into force</h2>
      <Reason id="approve-reason" />
      <Field
        id="approve-from"
        label="From"
        hint="Empty: as proposed, else two seconds from now. What was judged before stays as it is."
      >
        <input
          id="approve-from"
          name="from"
          type="datetime-local"
          aria-describedby="approve-from-hint"
        />
      </Field>
      <p>
        <button type="submit">Put edition {editionName(edition.number)} into force</button>
      </p>
    </form>
  );
}

function Refuse({ edition, caller }: { edition: EditionRecord; caller: SignedIn }) {
  return (
    <form method="post" action={`${EDITIONS_PATH}/${edition.number}/refuse`}>
      <CsrfField caller={caller} />
      <h2>Close it, so that it never comes into force</h2>
      <Reason id="refuse-reason" />
      <p>
        <button type="submit">Close this proposal</button>
      </p>
    </form>
  );
}

export function EditionContent({ shown, caller }: { shown: ShownEdition; caller: SignedIn }) {
  const { edition, inForce } = shown;
  const { scopes } = caller;
  const isOpen = edition.state === 'proposed';
  const mayApprove = hasScope(scopes, 'rules.approve');
  return (
    <>
      <RuleSides caller={caller} here="editions" />
      <Facts {...shown} />
      <ConfigurationTable
        caption={`What edition ${editionName(edition.number)} says`}
        configuration={edition.configuration}
        inForce={inForce.configuration}
      />
      {isOpen && mayApprove && <Approve {...{ edition, caller }} />}
      {isOpen && (mayApprove || hasScope(scopes, 'rules.write')) && (
        <Refuse {...{ edition, caller }} />
      )}
      <details>
        <summary>The configuration as JSON</summary>
        <pre class="inert" tabIndex={0} role="region" aria-label="The configuration as JSON">
          {JSON.stringify(edition.configuration, null, 2)}
        </pre>
      </details>
    </>
  );
}
