import type { Response } from 'express';
import type { HttpError } from '../http/http-error.js';
import { localsOf } from '../http/locals.js';
import { Notice } from './parts/notice.js';
import { sendPage } from './send-page.js';

const TITLES: Readonly<Record<number, string>> = {
  401: 'Sign in again',
  403: 'Not for you',
  404: 'Not found',
  429: 'Too many requests',
  500: 'It failed',
  503: 'Not just now',
};

/** An error in words, with a way on. */
export function sendErrorPage(res: Response, { status, message, errors }: HttpError): void {
  const { signedIn } = localsOf(res);
  sendPage(
    res,
    { title: TITLES[status] ?? 'It could not be done', caller: signedIn ?? null, status },
    <>
      <Notice kind="fault">{message}</Notice>
      {errors !== undefined && (
        <ul>
          {errors.map(({ pointer, message: fault }) => (
            <li key={pointer}>
              <code>{pointer}</code> {fault}
            </li>
          ))}
        </ul>
      )}
      <p>
        <a href={signedIn === undefined ? '/signin' : '/desk'}>
          {signedIn === undefined ? 'To sign-in' : 'To the held readings'}
        </a>
      </p>
    </>,
  );
}
