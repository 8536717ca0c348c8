import fc from 'fast-check';
import { readJson } from '../../../src/intake/set-json/read-json.js';

function faultOf(text: string | Buffer): { pointer: string; message: string } {
  const read = readJson(Buffer.from(text as string));
  if (read.ok) throw new Error(`a fault was expected: ${String(text)}`);
  expect(read.faults).toHaveLength(1);
  return read.faults[0] ?? { pointer: '?', message: '?' };
}

describe('what is not JSON', () => {
  it.each([
    ['', 'the body is empty; a JSON document was expected'],
    [' \n\t', 'the body is empty; a JSON document was expected'],
    [
      '{"a": 1,}',
      'the body is not JSON: at line 1, column 9, a member name in double quotes was expected',
    ],
    [
      '{"a" 1}',
      'the body is not JSON: at line 1, column 6, a colon after the name of the member was expected',
    ],
    [
      '{"a": 1\n "b": 2}',
      'the body is not JSON: at line 2, column 2, a comma or a closing brace was expected',
    ],
    [
      '[1, 2',
      'the body is not JSON: at line 1, column 6, a comma or a closing bracket was expected',
    ],
    ['{"a":\r\n  NaN}', 'the body is not JSON: at line 2, column 3, a value was expected'],
    [
      '{"a": 036}',
      'the body is not JSON: at line 1, column 8, a comma or a closing brace was expected',
    ],
    [
      "{'a': 1}",
      'the body is not JSON: at line 1, column 2, a member name in double quotes was expected',
    ],
    [
      '{} {}',
      'the body is not JSON: at line 1, column 4, nothing more after the document was expected',
    ],
    [
      '["a\u0000b"]',
      'the body is not JSON: at line 1, column 2, a text that is closed and has no raw control characters was expected',
    ],
  ])('%j is told with its place', (text, message) => {
    expect(faultOf(text)).toEqual({ pointer: '', message });
  });

  it('says where bytes stop being UTF-8', () => {
    // RFC 3629 §3 and §10: an overlong solidus, a surrogate, a cut character, a lone continuation.
    expect(faultOf(Buffer.from([0x22, 0x61, 0xc0, 0xaf, 0x22])).message).toBe(
      'the body is not UTF-8: the first wrong byte is byte 3',
    );
    expect(faultOf(Buffer.from([0x22, 0xed, 0xa0, 0x80, 0x22])).message).toMatch(
      /not UTF-8.* byte 3$/,
    );
    expect(faultOf(Buffer.from([0x22, 0x61, 0x62, 0xe2, 0x82])).message).toMatch(
      /not UTF-8.* byte 5$/,
    );
    expect(faultOf(Buffer.from([0x80])).message).toMatch(/not UTF-8.* byte 1$/);
    expect(faultOf(Buffer.from('{"a":1}', 'utf16le')).message).toContain('not JSON');
  });

  it('is refused when nested without end', () => {
    const message = 'the body is nested deeper than 32 levels';
    expect(faultOf('['.repeat(100_000)).message).toBe(message);
    expect(faultOf('{"a":'.repeat(33) + '1' + '}'.repeat(33)).message).toBe(message);
    expect(readJson(Buffer.from('['.repeat(32) + ']'.repeat(32))).ok).toBe(true);
    expect(readJson(Buffer.from(JSON.stringify('['.repeat(500)))).ok).toBe(true);
  });
});

describe('one member twice', () => {
  it.each([
    ['{"value":98,"value":37}', '/value', 'line 1, column 13'],
    ['{"a":[{"b":1},\n{"b":1,"c":2,"b":1}]}', '/a/1/b', 'line 2, column 14'],
    ['{"x~/":{"":1,"":2}}', '/x~0~1/', 'line 1, column 14'],
    ['{"value":1,"v\\u0061lue":1}', '/value', 'line 1, column 12'],
    ['{"__proto__":1,"__proto__":2}', '/__proto__', 'line 1, column 16'],
  ])('%s', (text, pointer, place) => {
    expect(faultOf(text)).toEqual({
      pointer,
      message: `the member stands twice in its object (${place})`,
    });
  });

  it('is told from one name in two objects, and from colons in texts', () => {
    const text = '{"a":{"a":1},"b":[{"a":":"},{"a":"\\":\\\\"}],"c:":"::"}';
    expect(readJson(Buffer.from(text))).toEqual({ ok: true, value: JSON.parse(text) as unknown });
  });
});

describe('what is JSON', () => {
  it('is read as it stands, a byte order mark left out (RFC 8259 §8.1)', () => {
    expect(readJson(Buffer.from('\ufeff{"a":"Ångström"}'))).toEqual({
      ok: true,
      value: { a: 'Ångström' },
    });
  });

  it('reads like JSON.parse, whatever the document', () => {
    fc.assert(
      fc.property(fc.jsonValue({ maxDepth: 6 }), fc.constantFrom(undefined, 2), (value, indent) => {
        const text = JSON.stringify(value, null, indent);
        expect(readJson(Buffer.from(text))).toEqual({
          ok: true,
          value: JSON.parse(text) as unknown,
        });
      }),
    );
  });

  it('differs from JSON.parse only over what it refuses on purpose', () => {
    const cut = fc.record({
      value: fc.jsonValue(),
      at: fc.nat(),
      junk: fc.string({ maxLength: 3 }),
    });
    fc.assert(
      fc.property(cut, ({ value, at, junk }) => {
        const sound = JSON.stringify(value);
        const place = at % (sound.length + 1);
        // As bytes and back: a lone surrogate cannot be written in UTF-8, and a leading mark is left out.
        const bytes = Buffer.from(sound.slice(0, place) + junk + sound.slice(place + junk.length));
        const text = bytes.toString('utf8').replace(/^\ufeff/, '');
        const read = readJson(bytes);
        let parsed: unknown;
        try {
          parsed = JSON.parse(text);
        } catch {
          expect(read.ok).toBe(false);
          return;
        }
        const message = read.ok ? '' : (read.faults[0]?.message ?? '');
        if (message === '') expect(read).toEqual({ ok: true, value: parsed });
        else expect(message).toMatch(/stands twice/);
      }),
      { numRuns: 2_000 },
    );
  });

  it('never throws for any bytes', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 64 }), (bytes) => {
        const read = readJson(Buffer.from(bytes));
        expect(read.ok || read.faults.length === 1).toBe(true);
      }),
      { numRuns: 2_000 },
    );
  });
});
