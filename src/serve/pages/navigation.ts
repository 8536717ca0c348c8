import { hasScope } from '../auth/scopes.js';
import type { GatewayScope } from '../auth/scopes.js';

/** A page of the desk that the navigation leads to. */
export interface DeskPage {
  readonly href: string;
  readonly label: string;
  /** One of these is needed. */
  readonly scopes: readonly GatewayScope[];
}

/** The pages of the desk, in the order of the morning's work. */
export const DESK_PAGES: readonly DeskPage[] = [
  { href: '/desk', label: 'Held', scopes: ['review.read'] },
  { href: '/desk/rejected', label: 'Rejected', scopes: ['review.read'] },
  { href: '/desk/agreement', label: 'Agreement', scopes: ['review.read'] },
  { href: '/desk/habits', label: 'Entry habits', scopes: ['review.read'] },
  {
    href: '/desk/rules',
    label: 'Rules',
    scopes: ['rules.read'],
  },
  { href: '/desk/sources', label: 'Sources', scopes: ['admin'] },
];

export function mayOpen({ scopes }: DeskPage, granted: readonly string[]): boolean {
  return scopes.some((scope) => hasScope(granted, scope));
}
