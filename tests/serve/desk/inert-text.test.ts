import fc from 'fast-check';
import { MOST_SHOWN_BYTES, toInertText } from '../../../src/serve/desk/submissions/inert-text.js';

describe('bytes shown as text', () => {
  it('has a name for each control character, and a line for each line', () => {
    const shown = toInertText(Buffer.from('MSH|a\rPID|\tb\u0000\u001b[2J\nc\r\nd\u007f'));
    expect(shown).toEqual({
      kind: 'text',
      text: 'MSH|a<CR>\nPID|\tb<NUL><ESC>[2J\nc<CR><LF>\nd<U+007F>',
      isCut: false,
    });
  });

  it('names the characters that turn the direction of writing', () => {
    expect(toInertText(Buffer.from('a\u202Eb')).text).toBe('a<U+202E>b');
  });

  it('is a table of bytes where it is not UTF-8', () => {
    const { kind, text } = toInertText(Buffer.from([0x4d, 0x53, 0x48, 0xff, 0x00]));
    expect([kind, text]).toEqual(['bytes', `000000  4d 53 48 ff 00${' '.repeat(33)}  MSH..`]);
  });

  it('is cut between characters', () => {
    const { kind, isCut } = toInertText(Buffer.from(`a${'é'.repeat(MOST_SHOWN_BYTES)}`));
    expect([kind, isCut]).toEqual(['text', true]);
  });

  it('has no control character but line ends and tabs, whatever the bytes', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
        const { text } = toInertText(Buffer.from(bytes));
        // eslint-disable-next-line no-control-regex -- control characters are what it is about
        expect(text).not.toMatch(/[\u0000-\u0008\u000b-\u001f\u007f\u202a-\u202e]/);
      }),
    );
  });
});
