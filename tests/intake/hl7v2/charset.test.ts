import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { bytesOf, headerOf } from './messages.js';

/** A message with a declared set and a name in these bytes. */
function withName(declared: string, name: string) {
  return parseMessage(bytesOf(headerOf({ 18: declared }), `PID|||WB-7710||${name}^Odile`));
}

const nameIn = (declared: string, name: string) => withName(declared, name).segments[1]?.text(5);

// Bytes and characters: the mapping tables ISO8859/8859-n.TXT of unicode.org, one or more of each part.
describe('character sets of table 0211', () => {
  it.each([
    ['ASCII', 'Roe', 'Roe'],
    ['', 'Roe', 'Roe'],
    ['8859/1', 'Mu\xf1oz \xa4', 'Muñoz ¤'],
    ['8859/2', '\xa3uczy\xf1ski', 'Łuczyński'],
    ['8859/3', '\xa1al\xbaafar', 'Ħalşafar'],
    ['8859/4', 'B\xbarzi\xf1\xb9', 'Bērziņš'],
    ['8859/5', '\xbe\xdb\xd5\xd3', 'Олег'],
    ['8859/6', '\xe3\xe4\xe9', '\u0643\u0644\u0649'],
    ['8859/7', '\xc1\xed\xed\xe1 \xa4', 'Αννα €'],
    ['8859/8', '\xe0\xfa', 'את'],
    ['8859/9', '\xdeahin \xd0\xdd', 'Şahin Ğİ'],
    ['8859/15', '\xbcuvre \xa4', 'Œuvre €'],
    ['UNICODE UTF-8', 'S\xc3\xb8rensen', 'Sørensen'],
    ['GB 18030-2000', '\xc4\xe3\xba\xc3', '你好'],
  ])('%s', (declared, bytes, text) => {
    const message = withName(declared, bytes);
    expect(message.segments[1]?.text(5)).toBe(text);
    expect(message.flags).toMatchObject({ undeclaredCharset: false, invalidCharset: false });
    expect(message.faults).toEqual([]);
  });

  it.each([
    ['UTF-8', 'M\xc3\xbcller', 'Müller'],
    ['UNICODE', 'M\xc3\xbcller', 'Müller'],
    ['unicode utf-8', 'M\xc3\xbcller', 'Müller'],
    ['ISO8859/1', 'M\xfcller', 'Müller'],
    ['ISO-8859-1', 'M\xfcller', 'Müller'],
    ['ISO IR6', 'Roe', 'Roe'],
  ])('are known by other spellings: %s', (declared, bytes, text) => {
    expect(nameIn(declared, bytes)).toBe(text);
  });

  it.each(['UNICODE UTF-16', 'UNICODE UTF-32', 'ISO IR87', 'BIG-5', 'KS X 1001', '8859/16', 'X'])(
    'that are not read leave the header alone: %s',
    (declared) => {
      const message = withName(declared, 'Roe');
      expect(message.charset).toBeNull();
      expect(message.segments.map((segment) => segment.id)).toEqual(['MSH']);
      expect(message.faults).toMatchObject([
        { location: { segment: 'MSH', occurrence: 1, field: 18 }, code: '103', severity: 'E' },
      ]);
    },
  );

  it('that come second are not read, and that is said', () => {
    const message = withName('8859/1~ISO IR87', 'M\xfcller');
    expect(message.segments[1]?.text(5)).toBe('Müller');
    expect(message.faults).toMatchObject([{ severity: 'W', location: { field: 18 } }]);
    expect(withName('~ISO IR87', 'Roe').charset).toBe('ASCII');
  });
});

describe('bytes above 127', () => {
  it('without a declared set are UTF-8 where they can be', () => {
    const message = withName('', 'M\xc3\xbcller');
    expect(message.segments[1]?.text(5)).toBe('Müller');
    expect(message.flags).toMatchObject({ undeclaredCharset: false, invalidCharset: false });
    expect(message.faults).toMatchObject([{ severity: 'W', location: { field: 18 } }]);
  });

  it('without a declared set are flagged where they are no UTF-8', () => {
    const message = withName('', 'M\xfcller');
    expect(message.flags).toMatchObject({ undeclaredCharset: true, invalidCharset: false });
    expect(message.segments[1]?.text(5)).toBe('M\ufffdller');
    expect(message.segments[1]?.text(3)).toBe('WB-7710');
  });

  it.each([
    ['UNICODE UTF-8', 'M\xfcller', 'M\ufffdller'],
    ['UNICODE UTF-8', 'cut \xe2\x82', 'cut \ufffd'],
    ['UNICODE UTF-8', '\xc0\xafslash', '\ufffd\ufffdslash'],
    ['UNICODE UTF-8', '\xed\xa0\x80', '\ufffd\ufffd\ufffd'],
    // Letters of Windows-1252 sent as ISO 8859/1, which has none at these bytes.
    ['8859/1', 'O\x92Brien', 'O\ufffdBrien'],
    ['8859/9', '\x80', '\ufffd'],
    ['8859/8', '\xbf', '\ufffd'],
    ['ASCII', 'M\xfcller', 'M\ufffdller'],
    ['GB 18030-2000', 'lone \xff', 'lone \ufffd'],
  ])('that %s does not have (%j) are flagged', (declared, bytes, text) => {
    const message = withName(declared, bytes);
    expect(message.flags).toMatchObject({ undeclaredCharset: false, invalidCharset: true });
    expect(message.segments[1]?.text(5)).toBe(text);
    expect(message.faults).toMatchObject([{ severity: 'W', location: { field: 18 } }]);
  });
});

describe('GB 18030', () => {
  // Its two-byte characters can end in the byte of a separator: 8E 5C, 8E 5E, 8E 7C, 8E 7E are such.
  const text = '\x8e\x5c\x8e\x5e\x8e\x7c\x8e\x7e';
  const name = new TextDecoder('gb18030').decode(Buffer.from(text, 'latin1'));

  it('keeps separators apart from halves of characters', () => {
    const message = withName('GB 18030-2000', text);
    expect(name).toMatch(/^\p{Script=Han}{4}$/u);
    expect(message.segments[1]?.text(5)).toBe(name);
    expect(message.segments[1]?.text(5, 2)).toBe('Odile');
    expect(message.segments[1]?.field(5).rawBytes).toEqual(Buffer.from(`${text}^Odile`, 'latin1'));
  });

  it('is found in MSH-18 behind a field that holds such halves', () => {
    const header = headerOf({ 3: text, 18: 'GB 18030-2000' });
    const message = parseMessage(bytesOf(header, 'PID|||A'));
    expect(message.charset).toBe('GB 18030-2000');
    expect(message.header?.text(3)).toBe(name);
    expect(message.header?.text(10)).toBe('BM-000481');
  });

  it('has characters of four bytes', () => {
    // GB 18030-2000: 81 30 81 30 is U+0080, 90 30 81 30 is U+10000.
    expect(nameIn('GB 18030-2000', '\x81\x30\x81\x30\x90\x30\x81\x30')).toBe('\u0080\u{10000}');
  });
});
