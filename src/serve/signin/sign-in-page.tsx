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

export function sendSignedOutPage(res: Response): void {
  sendPage(
    res,
    { title: 'Signed out', caller: null },
    <>
      <Notice kind="done">You have signed out here.</Notice>
      <p>
        <a href="/signin">Sign in again</a>
      </p>
    </>,
  );
}
