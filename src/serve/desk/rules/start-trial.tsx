/** A change from its form to a trial that runs, or back to the form with every fault. */
import type { Response } from 'express';
import { readTrialBody } from '../../../site-rules/read-rule-bodies.js';
import { listEditions } from '../../../store/editions.js';
import { findTrial } from '../../../store/trials.js';
import { describeSettings } from '../../../vitals/describe-settings.js';
import type { Fault } from '../../../vitals/shapes.js';
import { limitsOf } from '../../../vitals/site-rules.js';
import type { SiteRules } from '../../../vitals/site-rules.js';
import { isUuid } from '../../http/route.js';
import type { SignedIn } from '../../http/route.js';
import { Notice } from '../../pages/parts/notice.js';
import { sendPage } from '../../pages/send-page.js';
import { numberInForce } from '../../rules/edition-state.js';
import { actorOf } from '../../rules/services.js';
import { FaultList } from '../parts/fault-list.js';
import { changeConfiguration } from './change-configuration.js';
import { bytesOf } from './form-bodies.js';
import { RULES_PATH, RuleSides } from './rule-sides.js';
import type { RulePagesServices } from './services.js';
import { MOST_DAYS, TrialForm } from './trial-form.js';
import type { TrialFields } from './trial-form.js';

const EXAMPLES = 5;
const DAY_MS = 24 * 60 * 60 * 1000;
const DEFAULT_DAYS = '7';

export async function configurationInForce({
  pool,
  clock,
}: RulePagesServices): Promise<Partial<SiteRules>> {
  const editions = await listEditions(pool);
  const current = numberInForce(editions, clock());
  return editions.find(({ number }) => number === current)?.configuration ?? {};
}

/** What the change is made to: a trial's configuration, else that in force. */
async function baseOf(services: RulePagesServices, trialId: string): Promise<Partial<SiteRules>> {
  const trial = isUuid(trialId) ? await findTrial(services.pool, trialId) : null;
  return trial?.configuration ?? (await configurationInForce(services));
}

export function fieldsOf(sent: URLSearchParams): TrialFields {
  const text = (name: string): string => sent.get(name) ?? '';
  return {
    ...{ name: text('name'), setting: text('setting'), at: text('at') },
    ...{ document: text('document'), section: text('section'), year: text('year') },
    ...{ off: text('off'), on: text('on'), derived: text('derived') },
    ...{ days: sent.get('days') ?? DEFAULT_DAYS, base: text('base') },
  };
}

export interface Refused {
  readonly status: number;
  readonly says: string;
  readonly faults: readonly Fault[];
}

export async function sendTrialForm(
  services: RulePagesServices,
  res: Response,
  caller: SignedIn,
  fields: TrialFields,
  refused: Refused | null,
): Promise<void> {
  const base = await baseOf(services, fields.base);
  const limits = limitsOf(base);
  const rules = services.describeRules(limits);
  const settings = [...rules.flatMap((rule) => rule.settings), ...describeSettings(limits, 'band')];
  const unique = new Map(
    [...settings, ...describeSettings(limits, 'derived-values')].map((one) => [one.id, one]),
  );
  const notes = rules.filter(({ verdict, disabled }) => verdict === 'noted' && !disabled);
  sendPage(
    res,
    { title: 'Try a change', current: RULES_PATH, caller, status: refused?.status ?? 200 },
    <>
      <RuleSides caller={caller} here="trials" />
      {refused !== null && <FaultList says={refused.says} faults={refused.faults} />}
      {fields.base !== '' && (
        <Notice kind="note">
          The change is made to what was tried before, not to what is in force.
        </Notice>
      )}
      <TrialForm
        {...{ caller, fields: { ...fields, name: fields.name || (base.name ?? '') } }}
        settings={[...unique.values()]}
        notes={notes.map(({ rule }) => rule)}
        off={rules.filter(({ disabled }) => disabled).map(({ rule }) => rule)}
      />
    </>,
  );
}

/** What the form calls the place of a fault; a place elsewhere in the configuration keeps its pointer. */
function labelOf(pointer: string, { setting }: TrialFields): string {
  const ofSetting = `/configuration/settings/${setting}`;
  const labels: Readonly<Record<string, string>> = {
    '/configuration/name': 'Name of the site',
    '/days': 'Days',
    [ofSetting]: 'Number',
    [`${ofSetting}/at`]: 'New number',
    [`${ofSetting}/source/document`]: 'Source: document',
    [`${ofSetting}/source/section`]: 'Source: section',
    [`${ofSetting}/source/year`]: 'Source: year',
  };
  return labels[pointer] ?? pointer;
}

/** How many days back; null: it is no such number. */
function daysOf({ days }: TrialFields): number | null {
  const count = /^\d{1,3}$/.test(days.trim()) ? Number(days) : 0;
  return count >= 1 && count <= MOST_DAYS ? count : null;
}

/** Begins the trial; else what was wrong. */
export async function startTrial(
  services: RulePagesServices,
  caller: SignedIn,
  fields: TrialFields,
): Promise<{ trialId: string } | Refused> {
  const base = await baseOf(services, fields.base);
  const units = new Map(limitsOf(base).all.map(({ id, unit }) => [id, unit]));
  const nowMs = services.clock();
  const days = daysOf(fields);
  const read = readTrialBody(
    bytesOf({
      configuration: changeConfiguration(base, fields, (setting) => units.get(setting)),
      receivedFrom: new Date(nowMs - (days ?? 1) * DAY_MS).toISOString(),
      receivedTo: new Date(nowMs).toISOString(),
      examples: EXAMPLES,
    }),
  );
  const ofDays = { pointer: '/days', message: `must be a whole number from 1 to ${MOST_DAYS}` };
  const faults = [...(read.ok ? [] : read.faults), ...(days === null ? [ofDays] : [])].map(
    ({ pointer, message }) => ({ pointer: labelOf(pointer, fields), message }),
  );
  if (!read.ok || days === null) {
    return { status: 400, says: 'Nothing was tried: the change is at fault.', faults };
  }
  const { configuration, receivedFrom, receivedTo } = read.value;
  const trialId = await services.trials.start(await actorOf(services.names, caller), {
    configuration,
    fromMs: Date.parse(receivedFrom),
    toMs: Date.parse(receivedTo),
    examples: EXAMPLES,
  });
  if (trialId !== null) return { trialId };
  const says = 'A trial is under way here: wait until it is done, or stop it.';
  return { status: 409, says, faults: [] };
}
