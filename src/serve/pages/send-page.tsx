/** The frame of every page: head, navigation of the desk, the caution that belongs under each. */
import type { Response } from 'express';
import type { ComponentChildren } from 'preact';
import { renderToString } from 'preact-render-to-string';
import { hasScope } from '../auth/scopes.js';
import type { SignedIn } from '../http/route.js';
import { ICON_ADDRESS, loadedWith, pageAddress } from './files.js';
import { DESK_PAGES, mayOpen } from './navigation.js';
import { CsrfField } from './parts/form.js';

/** Nothing but our own files is loaded, nothing inline runs, and no other site puts a page into a frame. */
const CONTENT_SECURITY_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self'",
  "connect-src 'self'",
  "form-action 'self'",
  "base-uri 'none'",
  "frame-ancestors 'none'",
].join('; ');

export interface PageFacts {
  /** What the page is about: the heading and the title of the window. */
  readonly title: string;
  /** The page of {@link DESK_PAGES} that this one is, or belongs to, by its address. */
  readonly current?: string;
  /** Null: nobody is signed in, and there is nothing to navigate to. */
  readonly caller: SignedIn | null;
  /** Uses the whole width of the window: for long tables. */
  readonly wide?: boolean;
  /** 200 when absent. */
  readonly status?: number;
}

function Navigation({ caller, current }: { caller: SignedIn; current: string | undefined }) {
  const pages = DESK_PAGES.filter((page) => mayOpen(page, caller.scopes));
  return (
    <nav aria-label="Desk">
      <ul>
        {pages.map(({ href, label }) => (
          <li key={href}>
            <a href={href} aria-current={href === current ? 'page' : undefined}>
              {label}
            </a>
          </li>
        ))}
        {hasScope(caller.scopes, 'bedside') && (
          <li>
            <a href="/bedside">Bedside</a>
          </li>
        )}
      </ul>
    </nav>
  );
}

function Who({ caller }: { caller: SignedIn }) {
  return (
    <form class="who" method="post" action="/signin/out">
      <CsrfField caller={caller} />
      <span>{caller.session.name}</span>
      <button type="submit">Sign out</button>
    </form>
  );
}

function Head({ title, caller }: Pick<PageFacts, 'title' | 'caller'>) {
  return (
    <head>
      <meta charset="utf-8" />
      <title>{`${title} · Vital-sign gateway`}</title>
      <meta name="viewport" content="width=device-width, initial-scale=1" />
      <meta name="color-scheme" content="light dark" />
      <link rel="icon" href={ICON_ADDRESS} type="image/svg+xml" />
      <link rel="stylesheet" href={pageAddress('desk.css')} />
      {caller !== null && (
        <>
          <meta name="csrf-token" content={caller.session.csrfToken} />
          {loadedWith('desk.js').map((href) => (
            <link key={href} rel="modulepreload" href={href} />
          ))}
          <script type="module" src={pageAddress('desk.js')} />
        </>
      )}
    </head>
  );
}

function Page({
  title,
  current,
  caller,
  wide,
  children,
}: PageFacts & { children: ComponentChildren }) {
  return (
    <html lang="en">
      <Head title={title} caller={caller} />
      <body>
        <a class="skip" href="#content">
          To the content
        </a>
        <header class="top">
          <p class="brand">Vital-sign gateway</p>
          {caller !== null && <Navigation caller={caller} current={current} />}
          {caller !== null && <Who caller={caller} />}
        </header>
        <main id="content" class={wide === true ? 'wide' : undefined} tabIndex={-1}>
          <h1>{title}</h1>
          {children}
        </main>
        <footer class="caution">
          Not for monitoring or alarms: watch the patient and the bedside device. That nothing is
          flagged proves nothing. Readings need clinical judgement.
        </footer>
      </body>
    </html>
  );
}

/** Sends a whole page. Browsers keep none: what it shows is about patients. */
export function sendPage(res: Response, facts: PageFacts, content: ComponentChildren): void {
  const html = `<!doctype html>${renderToString(<Page {...facts}>{content}</Page>)}`;
  res.status(facts.status ?? 200);
  res.setHeader('Content-Type', 'text/html; charset=utf-8');
  res.setHeader('Content-Security-Policy', CONTENT_SECURITY_POLICY);
  res.setHeader('Cache-Control', 'no-store');
  res.end(html);
}
