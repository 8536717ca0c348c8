import { createHash } from 'node:crypto';
import { readDocument } from './markdown.js';

const { version, license } = JSON.parse(readDocument('package.json')) as {
  version: string;
  license: string;
};

describe('the licence', () => {
  // SHA-256 of https://www.apache.org/licenses/LICENSE-2.0.txt (from memory, unconfirmed).
  it('is the Apache License 2.0, word for word', () => {
    expect(license).toBe('Apache-2.0');
    expect(createHash('sha256').update(readDocument('LICENSE')).digest('hex')).toBe(
      'cfc7749b96f63bd31c3c42b5c471bf756814053e847c10f3eb003417bc523d30',
    );
  });
});

describe('the list of changes', () => {
  // Keep a Changelog 1.1.0: the newest version first, its kinds of change as headings.
  const changes = readDocument('CHANGELOG.md');

  it('begins with the version of the package', () => {
    const [, newest] = /^## \[([^\]]+)\]/m.exec(changes) ?? [];
    expect(newest).toBe(version);
  });

  it('has only the kinds of change that the form knows', () => {
    const kinds = [...changes.matchAll(/^### (.+)$/gm)].map(([, kind]) => kind);
    expect(kinds.length).toBeGreaterThan(0);
    const known = ['Added', 'Changed', 'Deprecated', 'Removed', 'Fixed', 'Security'];
    expect(kinds.filter((kind) => !known.includes(kind ?? ''))).toEqual([]);
  });
});
