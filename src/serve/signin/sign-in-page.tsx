import type { Response } from 'express';
import { Field } from '../pages/parts/form.js';
import { Notice } from '../pages/parts/notice.js';
import { sendPage } from '../pages/send-page.js';

export interface SignInPageFacts {
  /** Where to go afterwards: a page of ours. */
  readonly next: string | null;
  /** Why the last try did not work. */
  readonly fault?: string;
  readonly status?: number;
}

function LocalForm({ next }: Pick<SignInPageFacts, 'next'>) {
  return (
    <form method="post" action="/signin" class="card">
      {next !== null && <input type="hidden" name="next" value={next} />}
      <Field id="login" label="Name">
        <input
          id="login"
          name="login"
          autocomplete="username"
          autocapitalize="none"
          spellcheck={false}
          maxLength={100}
          required
          autofocus
        />
      </Field>
      <Field id="password" label="Password">
        <input
          id="password"
          name="password"
          type="password"
          autocomplete="current-password"
          maxLength={200}
          required
        />
      </Field>
      <button type="submit" class="main">
        Sign in
      </button>
      <p class="hint">
        This is the demo ward. Its people, with their passwords, stand in{' '}
        <code>demo-people.json</code> in the data folder.
      </p>
    </form>
  );
}

/** Where people sign in by name and password: the demo ward. */
export function sendLocalPage(res: Response, { next, fault, status }: SignInPageFacts): void {
  sendPage(
    res,
    { title: 'Sign in', caller: null, ...(status !== undefined && { status }) },
    <>
      {fault !== undefined && (
        <Notice kind="fault" word="Not signed in">
          {fault}
        </Notice>
      )}
      <LocalForm next={next} />
    </>,
  );
}

/** Where people go on to the hospital's own sign-in. */
export function sendProviderPage(res: Response, { next }: SignInPageFacts): void {
  const query = next === null ? '' : `?next=${encodeURIComponent(next)}`;
  sendPage(
    res,
    { title: 'Sign in', caller: null },
    <div class="card">
      <p>You sign in with your account at the hospital.</p>
      <a class="button main" href={`/signin/start${query}`}>
        Go on to the hospital’s sign-in
      </a>
    </div>,
  );
}

/** Why a sign-in with the provider did not work. */
export function sendFailedPage(
  res: Response,
  { status, reason }: { readonly status: number; readonly reason: string },
): void {
  sendPage(
    res,
    { title: 'Sign in', caller: null, status },
    <>
      <Notice kind="fault" word="Not signed in">
        {reason}
      </Notice>
      <p>
        <a href="/signin">Try again</a>
      </p>
    </>,
  );
}

/** Where a site has set no way to sign in up. */
export function sendNoWayPage(res: Response): void {
  sendPage(
    res,
    { title: 'Sign in', caller: null, status: 503 },
    <Notice kind="caution">
      No way to sign in is set up here. Whoever runs the gateway names the hospital’s OpenID
      provider in <code>SIGNIN_ISSUER</code>.
    </Notice>,
  );
}

/** @param endAddress where the session at the provider ends; null: there is none */
export function sendSignedOutPage(res: Response, endAddress: string | null): void {
  sendPage(
    res,
    { title: 'Signed out', caller: null },
    <>
      <Notice kind="done">You have signed out here.</Notice>
      {endAddress !== null && (
        <p>
          At the hospital’s sign-in you may still be signed in: at a computer that others use too,{' '}
          <a href={endAddress}>sign out there as well</a>.
        </p>
      )}
      <p>
        <a href="/signin">Sign in again</a>
      </p>
    </>,
  );
}
