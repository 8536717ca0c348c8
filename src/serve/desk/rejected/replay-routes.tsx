/** Kept messages read again: first a look at what would change, then the same for good. */
import type { Request, Response } from 'express';
import type { ComponentChildren } from 'preact';
import { listReplayable } from '../../../store/find-replayable.js';
import type { ReplayedReading } from '../../../store/replay-set.js';
import type { ReplayMode } from '../../../store/replaying.js';
import { listSources } from '../../../store/sources.js';
import { noteLook } from '../../http/audit-requests.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import { isUuid } from '../../http/route.js';
import type { Route, SignedIn } from '../../http/route.js';
import { CsrfField, Field } from '../../pages/parts/form.js';
import { Notice } from '../../pages/parts/notice.js';
import { sendPage } from '../../pages/send-page.js';
import { readSiteTime } from '../../pages/site-time.js';
import { withinReach } from '../../review/access.js';
import { actorOf } from '../../rules/services.js';
import { ReplayTable } from './replay-table.js';
import type { ReplayedMessage } from './replay-table.js';
import { readSearchFields } from './search-fields.js';
import { REJECTED_PATH, RejectedSides } from './search-form.js';
import type { RejectedServices } from './services.js';

const PATH = `${REJECTED_PATH}/again`;
/** Messages that one request reads again. */
const MAX_MESSAGES = 100;

/** Whose messages are looked for, and from which time. */
interface Wanted {
  readonly source: string | null;
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

/** The messages of a request: those that it names, or those found; `more`: others wait behind them. */
async function messagesOf(
  { pool }: RejectedServices,
  form: URLSearchParams,
  wanted: Wanted,
): Promise<{ readonly ids: readonly string[]; readonly more: boolean }> {
  const named = [...new Set(form.getAll('submission'))].filter(isUuid);
  if (named.length > 0) {
    return { ids: named.slice(0, MAX_MESSAGES), more: named.length > MAX_MESSAGES };
  }
  if (form.get('found') === null) return { ids: [], more: false };
  const filter = {
    source: wanted.source,
    receivedFromMs: wanted.fromMs,
    receivedToMs: wanted.toMs,
  };
  const found = await withinReach(listReplayable(pool, filter, null, MAX_MESSAGES + 1));
  return { ids: found.slice(0, MAX_MESSAGES), more: found.length > MAX_MESSAGES };
}

async function replayAll(
  services: RejectedServices,
  caller: SignedIn,
  ids: readonly string[],
  mode: ReplayMode,
): Promise<ReplayedMessage[]> {
  const cause = await actorOf(services.names, caller);
  const messages: ReplayedMessage[] = [];
  for (const submissionId of ids) {
    const readings: readonly ReplayedReading[] =
      (await services.replay(submissionId, cause, mode)) ?? [];
    messages.push({ submissionId, readings });
  }
  return messages;
}

function WantedForm({
  caller,
  sources,
  form,
}: {
  caller: SignedIn;
  sources: readonly string[];
  form: URLSearchParams;
}) {
  const chosen = form.get('source') ?? '';
  return (
    <form class="search" method="post" action={`${PATH}/look`}>
      <CsrfField caller={caller} />
      <input type="hidden" name="found" value="yes" />
      <div class="row">
        <Field id="again-source" label="Source">
          <select id="again-source" name="source">
            <option value="">any</option>
            {sources.map((name) => (
              <option key={name} value={name} selected={name === chosen}>
                {name}
              </option>
            ))}
          </select>
        </Field>
        <Field id="again-from" label="Received from">
          <input id="again-from" name="from" type="datetime-local" value={form.get('from') ?? ''} />
        </Field>
        <Field id="again-to" label="Until">
          <input id="again-to" name="to" type="datetime-local" value={form.get('to') ?? ''} />
        </Field>
      </div>
      <p>
        <button type="submit">Look at what would change</button>
      </p>
    </form>
  );
}

async function send(
  services: RejectedServices,
  res: Response,
  caller: SignedIn,
  form: URLSearchParams,
  content: ComponentChildren,
): Promise<void> {
  const sources = (await listSources(services.pool)).map(({ name }) => name);
  const search = readSearchFields(new URLSearchParams(), services.siteZone);
  sendPage(
    res,
    { title: 'Read messages again', current: REJECTED_PATH, caller, wide: true },
    <>
      <RejectedSides {...{ search, here: 'again', mayWrite: true }} />
      <p>
        After a mapping of codes or units was put in force, messages that came before are read by it
        here: rows that nobody could read, and readings rejected for their unit. What stands is not
        touched, and whose readings they are is not asked again.
      </p>
      <WantedForm {...{ caller, sources, form }} />
      {content}
    </>,
  );
}

function wantedOf(form: URLSearchParams, zone: string): Wanted {
  const source = form.get('source') ?? '';
  return {
    source: source === '' ? null : source,
    fromMs: readSiteTime(form.get('from') ?? '', zone),
    toMs: readSiteTime(form.get('to') ?? '', zone),
  };
}

function Looked({
  messages,
  more,
  caller,
}: {
  messages: readonly ReplayedMessage[];
  more: boolean;
  caller: SignedIn;
}) {
  const changing = messages.filter(({ readings }) => readings.length > 0);
  const readings = changing.reduce((sum, one) => sum + one.readings.length, 0);
  if (messages.length === 0) {
    return <Notice kind="note">No message was marked or found that a mapping could help.</Notice>;
  }
  return (
    <>
      <Notice kind="note" word="Nothing was changed yet">
        {`${messages.length} ${messages.length === 1 ? 'message' : 'messages'} read by the mapping in force: ${readings} ${readings === 1 ? 'reading' : 'readings'} would be made or judged anew.`}
        {more && ` There are more messages: these are the first ${MAX_MESSAGES}.`}
      </Notice>
      <ReplayTable caption="What would come of it" messages={changing} isDone={false} />
      {changing.length > 0 && (
        <form method="post" action={PATH}>
          <CsrfField caller={caller} />
          {changing.map(({ submissionId }) => (
            <input key={submissionId} type="hidden" name="submission" value={submissionId} />
          ))}
          <p>
            <button type="submit">{`Read ${changing.length === 1 ? 'this message' : `these ${changing.length} messages`} again for good`}</button>
          </p>
        </form>
      )}
    </>
  );
}

function Done({ messages }: { messages: readonly ReplayedMessage[] }) {
  const readings = messages.flatMap((message) => message.readings);
  const published = readings.filter((reading) => reading.published).length;
  return (
    <>
      <Notice kind="done">
        {`${readings.length} ${readings.length === 1 ? 'reading was' : 'readings were'} made or judged anew from ${messages.length} ${messages.length === 1 ? 'message' : 'messages'}; ${published} ${published === 1 ? 'is' : 'are'} published.`}
      </Notice>
      <ReplayTable caption="What came of it" messages={messages} isDone />
    </>
  );
}

/** What was looked at or read again, for the audit trail. */
function noteMessages(res: Response, messages: readonly ReplayedMessage[]): void {
  noteLook(res, { detail: { submissions: messages.map(({ submissionId }) => submissionId) } });
}

const SESSION = { by: 'session', scopes: ['review.read', 'review.write'], needsAll: true } as const;

export function replayRoutes(services: RejectedServices): Route[] {
  const zone = services.siteZone;
  return [
    {
      ...SESSION,
      method: 'get',
      path: PATH,
      summary: 'Read kept messages again',
      handler: (_req: Request, res: Response, caller: SignedIn) =>
        send(services, res, caller, new URLSearchParams(), null),
    },
    {
      ...SESSION,
      method: 'post',
      path: `${PATH}/look`,
      summary: 'Look at what reading messages again would change',
      audit: { action: 'replay-looked-at' },
      body: FORM_BODY,
      async handler(req: Request, res: Response, caller: SignedIn) {
        const form = formOf(req);
        const { ids, more } = await messagesOf(services, form, wantedOf(form, zone));
        const messages = await replayAll(services, caller, ids, 'look');
        noteMessages(res, messages);
        await send(services, res, caller, form, <Looked {...{ messages, more, caller }} />);
      },
    },
    {
      ...SESSION,
      method: 'post',
      path: PATH,
      summary: 'Read messages again for good',
      audit: { action: 'messages-replayed' },
      body: FORM_BODY,
      async handler(req: Request, res: Response, caller: SignedIn) {
        const form = formOf(req);
        const ids = [...new Set(form.getAll('submission'))].filter(isUuid).slice(0, MAX_MESSAGES);
        const messages = await replayAll(services, caller, ids, 'keep');
        noteMessages(res, messages);
        await send(services, res, caller, form, <Done messages={messages} />);
      },
    },
  ];
}
