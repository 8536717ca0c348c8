/** What the site wants the page to offer first, and the limits that it judges by. */
import type { SiteRules } from '../../../vitals/site-rules.js';
import type { SiteDefaults } from '../door.js';
import type { KeptValues } from '../vault/kept-values.js';
import type { Session } from './session.js';

const SITE_PATH = '/bedside/site';
const KEPT_NAME = 'site';
const IDLE_MINUTES = 5;

/** The site as the gateway tells it. */
export interface Site extends SiteDefaults {
  /** The edition in force when it was asked, and how it differs from what comes with the gateway. */
  readonly edition: string;
  readonly rules: Partial<SiteRules>;
}

/** Before the first contact: nothing of the site is known. */
const UNKNOWN_SITE: Site = {
  zone: 'UTC',
  units: {},
  identifierSystems: [],
  idleMinutes: IDLE_MINUTES,
  edition: '',
  rules: {},
};

/** The site as it is now, else as it was when it was read last. */
export async function readSite(session: Session, kept: KeptValues): Promise<Site> {
  const reply = await session.ask({ path: SITE_PATH, timeoutMs: 5_000 });
  if (reply.kind !== 'answer' || reply.status !== 200) return keptSite(kept);
  const site = reply.body as Site;
  await kept.save(KEPT_NAME, site);
  return site;
}

export async function keptSite(kept: KeptValues): Promise<Site> {
  return (await kept.load<Site>(KEPT_NAME)) ?? UNKNOWN_SITE;
}
