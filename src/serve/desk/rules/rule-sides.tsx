import { hasScope } from '../../auth/scopes.js';
import type { SignedIn } from '../../http/route.js';
import { Sides } from '../parts/sides.js';

export const RULES_PATH = '/desk/rules';
export const EDITIONS_PATH = `${RULES_PATH}/editions`;
export const TRIALS_PATH = `${RULES_PATH}/trials`;

/** Whoever tries a configuration sees what was said of readings, and so must be one who may review. */
export const TRIAL_ACCESS = {
  by: 'session',
  scopes: ['rules.write', 'review.read'],
  needsAll: true,
} as const;

export function mayTry({ scopes }: SignedIn): boolean {
  return TRIAL_ACCESS.scopes.every((scope) => hasScope(scopes, scope));
}

/** The sides of the rules, those that the person may open. */
export function RuleSides({
  caller,
  here,
}: {
  caller: SignedIn;
  here: 'rules' | 'editions' | 'trials';
}) {
  const sides = [
    ...(hasScope(caller.scopes, 'rules.read')
      ? [{ href: RULES_PATH, label: 'Rules and limits', isHere: here === 'rules' }]
      : []),
    { href: EDITIONS_PATH, label: 'Editions', isHere: here === 'editions' },
    ...(mayTry(caller) ? [{ href: TRIALS_PATH, label: 'Trials', isHere: here === 'trials' }] : []),
  ];
  return <Sides label="Rules" sides={sides} />;
}
