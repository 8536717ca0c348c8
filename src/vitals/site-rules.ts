/**
 * A site's configuration of rules and limits, as `schemas/site-rules.schema.json` publishes it. What it
 * does not name stays as it comes with the gateway. It is refused whole with any fault: its form is
 * checked by the contract, its sense by `limits-contradictions.ts` and `derived-values.ts`, its switches
 * by the rules.
 */
import { buildLimits, type Limits, type SettingChanges } from './limits.js';
import type { SettingUnit } from './setting.js';

/** A document of the site, or one that the site goes by. */
export interface SiteSource {
  readonly document: string;
  readonly section: string;
  readonly year?: number;
  readonly note?: string;
}

export interface SiteSetting {
  readonly at: number;
  /** The setting's own unit: nothing is converted. */
  readonly unit: SettingUnit;
  readonly source: SiteSource;
}

interface Switch {
  readonly enabled: boolean;
}

export interface SiteRules {
  readonly name: string;
  /** By id of the setting. */
  readonly settings: Readonly<Record<string, SiteSetting>>;
  /** By id of the rule. */
  readonly rules?: Readonly<Record<string, Switch>>;
  /** Pulse pressure and mean pressure, calculated; absent: not. */
  readonly derivedValues?: Switch;
}

/** A configuration that somebody wants in force; times as they were written. */
export interface EditionProposal {
  readonly configuration: SiteRules;
  readonly reason: string;
  readonly inForceFrom?: string;
}

/** What somebody says about a proposal. */
export interface EditionDecision {
  readonly reason: string;
  readonly inForceFrom?: string;
}

/** A configuration to try, and the sets to try it on. */
export interface TrialBody {
  readonly configuration: SiteRules;
  readonly receivedFrom: string;
  readonly receivedTo: string;
  readonly examples?: number;
}

/**
 * The limits of a configuration that was found to be without fault; of an empty one, the defaults.
 * @throws Error when it names a setting that this program does not have
 */
export function limitsOf({ settings = {}, rules = {}, derivedValues }: Partial<SiteRules>): Limits {
  const changes: SettingChanges = Object.fromEntries(
    Object.entries(settings).map(([id, { at, source }]) => [
      id,
      {
        at,
        source: {
          document: source.document,
          section: source.section,
          year: source.year ?? null,
          standing: 'site' as const,
        },
      },
    ]),
  );
  const disabled = Object.entries(rules).filter(([, { enabled }]) => !enabled);
  return buildLimits(
    changes,
    disabled.map(([id]) => id),
    derivedValues?.enabled,
  );
}
