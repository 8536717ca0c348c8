import { createHash } from 'node:crypto';
import { Html } from './html.js';

/** The one style sheet of the page; colours are named by what they are for, once for light and once for dark. */
const STYLE = `
:root { color-scheme: light dark;
  --paper: #fbfaf7; --ink: #1d2528; --quiet: #55636a; --line: #d6d3c9; --field: #f0eee7; --link: #0b5c73;
  --get: #0b5c73; --post: #2f6b1f; --put: #85500a; --delete: #9b2226; --on-badge: #ffffff; }
@media (prefers-color-scheme: dark) { :root {
  --paper: #14191b; --ink: #e4e6e3; --quiet: #a3afb4; --line: #343d41; --field: #1e2528; --link: #7cc7de;
  --get: #7cc7de; --post: #9bd17f; --put: #e6b667; --delete: #f29a9c; --on-badge: #14191b; } }
* { box-sizing: border-box; }
html { scroll-padding-top: 1rem; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 1rem/1.55 system-ui, sans-serif; }
a { color: var(--link); text-underline-offset: .15em; }
:focus-visible { outline: 3px solid var(--link); outline-offset: 2px; }
code, pre { font-family: ui-monospace, "Cascadia Mono", Menlo, Consolas, monospace; font-size: .9em; }
code { overflow-wrap: anywhere; }
pre { white-space: pre-wrap; overflow-wrap: anywhere; margin: .5rem 0; padding: .75rem 1rem;
  background: var(--field); border-left: 3px solid var(--line); line-height: 1.45; }
.skip { position: absolute; left: -100rem; }
.skip:focus { left: 1rem; top: 1rem; padding: .5rem 1rem; background: var(--paper); z-index: 1; }
header, .page { max-width: 84rem; margin: 0 auto; padding: 0 1.25rem; }
header { padding-top: 2rem; padding-bottom: 1rem; border-bottom: 1px solid var(--line); }
h1 { margin: 0; font-size: 1.7rem; line-height: 1.2; }
h2 { margin: 3rem 0 .25rem; padding-top: .5rem; font-size: 1.35rem; }
h3 { margin: 0; font-size: 1rem; font-weight: 600; }
h4 { margin: 1.25rem 0 .25rem; font-size: .95rem; color: var(--quiet); font-weight: 600; }
.quiet { color: var(--quiet); }
p { margin: .35rem 0; max-width: 72ch; }
nav ul { list-style: none; margin: 0; padding: 0; }
nav a { display: block; padding: .15rem 0; text-decoration: none; overflow-wrap: anywhere; }
nav a:hover { text-decoration: underline; }
nav summary { padding: .35rem 0; font-weight: 600; }
nav li li a { padding-left: 1rem; font-size: .85rem; }
article { margin: 1.25rem 0 0; padding: 1.25rem 0 .5rem; border-top: 1px solid var(--line); }
.badge { display: inline-block; min-width: 4.2em; padding: .1em .5em; border-radius: 3px; text-align: center;
  font-size: .8em; letter-spacing: .04em; color: var(--on-badge); background: var(--get); }
.badge.post { background: var(--post); } .badge.put, .badge.patch { background: var(--put); }
.badge.delete { background: var(--delete); }
table { border-collapse: collapse; width: 100%; margin: .35rem 0; }
th, td { text-align: left; vertical-align: top; padding: .3rem 1rem .3rem 0; border-bottom: 1px solid var(--line); }
th { font-weight: 600; font-size: .85rem; color: var(--quiet); }
td:first-child code { overflow-wrap: break-word; }
td:nth-child(2) { min-width: 12ch; } td:last-child { min-width: 25ch; }
summary { cursor: pointer; }
@media (min-width: 62rem) {
  .page { display: grid; grid-template-columns: 18rem minmax(0, 1fr); gap: 3rem; }
  nav { position: sticky; top: 0; align-self: start; max-height: 100vh; overflow: auto; padding: 1.5rem .25rem; } }
@media (max-width: 44rem) {
  thead { position: absolute; left: -100rem; } tr, td { display: block; min-width: 0; }
  tr { border-bottom: 1px solid var(--line); padding: .3rem 0; } td { border: 0; padding: 0; } }
@media print { nav, .skip { display: none; } }
`;

/** To the letter what the policy below has the hash of. */
export const STYLE_ELEMENT = new Html(`<style>${STYLE}</style>`);

/**
 * What the page may do: look as it is told here, and nothing else. It runs no script, loads nothing, sends
 * nothing, and stands in nobody's frame (Content Security Policy, level 3).
 */
export const CONTENT_SECURITY_POLICY = [
  "default-src 'none'",
  `style-src 'sha256-${createHash('sha256').update(STYLE).digest('base64')}'`,
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');
