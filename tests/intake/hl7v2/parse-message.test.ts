import fc from 'fast-check';
import { encodeEscapes } from '../../../src/intake/hl7v2/escapes.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import type { Hl7Segment } from '../../../src/intake/hl7v2/segment.js';
import { bytesOf, headerOf, messageOf, ORDER, PATIENT, PULSE } from './messages.js';

const idsOf = (bytes: Uint8Array) => parseMessage(bytes).segments.map((segment) => segment.id);
const second = (bytes: Uint8Array): Hl7Segment => {
  const segment = parseMessage(bytes).segments[1];
  if (segment === undefined) throw new Error('the message has one segment only');
  return segment;
};

describe('the parts of a message', () => {
  const pid = second(messageOf(headerOf(), 'PID|1||A1^^^WARD&1.2.3&ISO^MR~B2^^^CITY||Roe^Ana|'));

  it('are numbered from one', () => {
    expect(pid.text(3)).toBe('A1');
    expect(pid.text(3, 5)).toBe('MR');
    expect(pid.text(3, 4, 2)).toBe('1.2.3');
    expect(pid.field(3).repetition(2).component(4).text).toBe('CITY');
    expect(pid.field(3).repetitions).toHaveLength(2);
    expect(pid.field(3).repetition(1).component(4).subcomponentCount).toBe(3);
  });

  it('are empty where nothing was sent', () => {
    expect(pid.field(2).isEmpty).toBe(true);
    expect(pid.field(2).repetitions).toEqual([]);
    expect(pid.text(99, 7, 3)).toBe('');
    expect(pid.field(3).repetition(9).isEmpty).toBe(true);
    expect(pid.field(3).repetition(1).component(9).isEmpty).toBe(true);
    expect(pid.fieldCount).toBe(6);
  });

  it('tell deletion from silence (HL7 v2.9.1 §2.4.3)', () => {
    const segment = second(messageOf(headerOf(), 'PID|""||A^""||'));
    expect(segment.field(1).isDeletion).toBe(true);
    expect(segment.field(2).isDeletion).toBe(false);
    expect(segment.field(3).isDeletion).toBe(false);
    expect(segment.field(3).repetition(1).component(2).isDeletion).toBe(true);
  });

  it('of MSH count the field separator as the first (HL7 v2.9.1 §2.13.9.1)', () => {
    const header = parseMessage(messageOf(headerOf())).header;
    expect(header?.text(1)).toBe('|');
    expect(header?.text(2)).toBe('^~\\&');
    expect(header?.text(3, 3)).toBe('EUI-64');
    expect(header?.text(12)).toBe('2.6');
    expect(header?.fieldCount).toBe(21);
  });

  it('have a place that counts segments of a name, not set ids', () => {
    const bytes = messageOf(headerOf(), PATIENT, ORDER, PULSE, ORDER, PULSE);
    const last = parseMessage(bytes).segments.at(-1);
    expect(last?.at(5, 1)).toEqual({ segment: 'OBX', occurrence: 2, field: 5, repetition: 1 });
  });

  it('keep the bytes as they came', () => {
    const segment = second(bytesOf(headerOf(), 'PID|||\xe9\\S\\^x~\x00'));
    expect(segment.field(3).rawBytes).toEqual(Buffer.from('\xe9\\S\\^x~\x00', 'latin1'));
  });

  it('lose U+0000, which no text column holds', () => {
    expect(second(bytesOf(headerOf(), 'PID|||A\x00B\\X00\\C')).text(3)).toBe('ABC');
  });
});

describe('separators', () => {
  it('are those of MSH, whichever they are', () => {
    const bytes = messageOf('MSH$*@!%$WARD$$$$$$ORU*R01$7$P$2.5', 'PID$$$A*B%C@D$$x^y|z~&\\w!S!');
    const pid = second(bytes);
    expect(pid.text(3, 2, 2)).toBe('C');
    expect(pid.field(3).repetition(2).component(1).text).toBe('D');
    expect(pid.text(5)).toBe('x^y|z~&\\w*');
  });

  it('may be five (HL7 v2.9.1 §2.4.4), and then the fifth has an escape', () => {
    const five = messageOf(headerOf().replace('\\&', '\\&#'), 'NTE|1||a\\P\\b');
    expect(parseMessage(five).separators.truncation).toBe('#');
    expect(second(five).text(3)).toBe('a#b');
    expect(second(messageOf(headerOf(), 'NTE|1||a\\P\\b')).text(3)).toBe('a\\P\\b');
  });

  it.each([
    ['repeated', 'MSH|^^\\&|A', 2],
    ['the field separator again', 'MSH|^~\\|A', 2],
    ['a letter', 'MSH|^~E&|A', 2],
    ['a digit', 'MSH|^~\\0|A', 2],
    ['a space', 'MSH|^~\\ |A', 2],
    ['three', 'MSH|^~\\|A', 2],
    ['six', 'MSH|^~\\&#$|A', 2],
    ['none', 'MSH|', 2],
    ['none after none', 'MSH||A', 2],
    ['a letter after MSH', 'MSHA^~\\&A', 1],
    ['a control character after MSH', 'MSH\x00^~\\&\x00', 1],
    ['nothing after MSH', 'MSH', 1],
  ])('are refused: %s', (_, header, field) => {
    const message = parseMessage(messageOf(header, PATIENT));
    expect(message.faults).toMatchObject([{ location: { segment: 'MSH', field }, severity: 'E' }]);
    expect(message.segments.map((segment) => segment.id)).toEqual(['MSH']);
  });

  it('let the fields of MSH be told where only the field separator is sound', () => {
    const message = parseMessage(messageOf('MSH|^^\\&|A|B||||||ID^7|P'));
    expect(message.header?.field(10).rawBytes.toString()).toBe('ID^7');
    expect(message.separators).toMatchObject({ field: '|', component: '^', repetition: '~' });
  });
});

describe('ends of segments', () => {
  const whole = ['MSH', 'PID', 'OBX'];

  it.each(['\r', '\r\n', '\n', '\n\n', '\r\n\r\n'])('%j is taken', (end) => {
    expect(idsOf(Buffer.from([headerOf(), PATIENT, PULSE].join(end) + end))).toEqual(whole);
    expect(idsOf(Buffer.from([headerOf(), PATIENT, PULSE].join(end)))).toEqual(whole);
  });

  it('are flagged when line feeds are among them', () => {
    expect(parseMessage(messageOf(headerOf())).flags.lineFeeds).toBe(false);
    expect(parseMessage(Buffer.from(`${headerOf()}\r\n`)).flags.lineFeeds).toBe(true);
  });

  it('are no line feeds in a text, where the message has carriage returns', () => {
    const bytes = messageOf(headerOf(), 'NTE|1||first line\nBPM: 72\nthird|RE');
    expect(second(bytes).text(3)).toBe('first line\nBPM: 72\nthird');
    expect(second(bytes).text(4)).toBe('RE');
  });

  it('are line feeds before a segment, so that two patients never run together', () => {
    const other = PATIENT.replace('WB-7710', 'WB-7711');
    const bytes = Buffer.from(`${headerOf()}\r${PATIENT}\r${PULSE}\n${other}\r${PULSE}\r`);
    expect(idsOf(bytes)).toEqual(['MSH', 'PID', 'OBX', 'PID', 'OBX']);
  });

  it.each(['pid|||X', ' PID|||X', 'PID^^^X', '\u00a0PID|||X', 'PI\x00D|||X', 'P', 'PIDX|||X'])(
    'before a line that is no segment (%j) make a fault',
    (line) => {
      const message = parseMessage(messageOf(headerOf({ 18: 'UNICODE UTF-8' }), line, PULSE));
      expect(message.segments.map((segment) => segment.id)).toEqual(['MSH', 'OBX']);
      expect(message.faults).toEqual([
        { location: null, code: '100', severity: 'E', text: 'line 2 is no segment' },
      ]);
    },
  );

  it('before a line that is no segment make a fault where line feeds end segments, too', () => {
    const bytes = Buffer.from([headerOf(), PULSE, 'pid|||X', PULSE].join('\n'));
    expect(parseMessage(bytes).faults).toMatchObject([{ code: '100', severity: 'E' }]);
    const mixed = Buffer.from(`${headerOf()}\r${PULSE}\npid|||X\r${PULSE}`);
    expect(parseMessage(mixed).faults).toMatchObject([{ code: '100', severity: 'E' }]);
  });

  it('before another MSH end the message', () => {
    const message = parseMessage(messageOf(headerOf(), PATIENT, headerOf(), PULSE));
    expect(message.segments.map((segment) => segment.id)).toEqual(['MSH', 'PID']);
    expect(message.faults).toMatchObject([{ location: { segment: 'MSH', occurrence: 2 } }]);
  });
});

describe('the start of a message', () => {
  it.each([
    ['a byte order mark', '\xef\xbb\xbf'],
    ['empty lines', '\r\n\r\n'],
  ])('may have %s before it', (_, lead) => {
    const bytes = Buffer.from(`${lead}${headerOf()}\r${PATIENT}\r`, 'latin1');
    const message = parseMessage(bytes);
    expect([message.segments.length, message.faults]).toEqual([2, []]);
  });

  it.each(['', ' ', 'HELLO WORLD', 'PID|||A\rMSH|^~\\&|', 'msh|^~\\&|', 'MS', '\x00MSH|^~\\&|'])(
    'is MSH: %j is none',
    (text) => {
      const message = parseMessage(Buffer.from(text));
      expect(message.header).toBeNull();
      expect(message.segments).toEqual([]);
      expect(message.faults).toMatchObject([{ location: null, code: '100', severity: 'E' }]);
    },
  );

  it('is not found in UTF-16', () => {
    expect(parseMessage(Buffer.from('\ufeffMSH|^~\\&|', 'utf16le')).header).toBeNull();
  });
});

describe('big messages', () => {
  it('of 100,000 segments are read whole', () => {
    const message = parseMessage(Buffer.from(`${headerOf()}\r${'OBX|1\r'.repeat(100_000)}`));
    expect(message.segments).toHaveLength(100_001);
    expect(message.segments.at(-1)?.occurrence).toBe(100_000);
  });

  it('of 100,000 faults list some', () => {
    const message = parseMessage(Buffer.from(`${headerOf()}\r${'obx\r'.repeat(100_000)}`));
    expect(message.faults).toHaveLength(50);
  });

  it('may repeat and nest as they like', () => {
    const field = 'A^B&C~'.repeat(100_000);
    const segment = second(messageOf(headerOf(), `PID|||${field}`));
    expect(segment.field(3).repetitions).toHaveLength(100_001);
    expect(segment.field(3).repetition(100_000).component(2).subcomponent(2)).toBe('C');
  });
});

const SIGNS = '!"#$%&\'()*+,-./:;<=>?@[\\]^_`{|}~'.split('');
const separators = fc
  .uniqueArray(fc.constantFrom(...SIGNS), { minLength: 5, maxLength: 6 })
  .map((signs) => signs.join(''));

/** Reads everything that the reader offers of a message, and gives all its texts. */
function readAll(bytes: Uint8Array): readonly string[] {
  const texts: string[] = [];
  for (const segment of parseMessage(bytes).segments) {
    for (let number = 0; number <= segment.fieldCount + 1; number += 1) {
      for (const repetition of segment.field(number).repetitions) {
        for (const component of repetition.components) {
          texts.push(component.formattedText);
          for (let part = 1; part <= component.subcomponentCount; part += 1) {
            texts.push(component.subcomponent(part));
          }
        }
      }
    }
  }
  return texts;
}

describe('whatever arrives', () => {
  it('is answered, never thrown at', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), (bytes) => {
        expect(readAll(bytes).join('')).not.toContain('\u0000');
      }),
    );
  });

  const piece = fc.oneof(
    fc.constantFrom('\r', '\n', '|', '^', '~', '\\', '&', '\\X', '\\.br\\', 'MSH', 'PID|', '""'),
    fc.string({ unit: 'binary', maxLength: 4 }),
  );
  const charset = fc.constantFrom('', '8859/7', 'UNICODE UTF-8', 'GB 18030-2000', 'UNICODE UTF-16');
  it('is answered, never thrown at, when it begins as a message', () => {
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 40 }), charset, (pieces, name) => {
        const bytes = Buffer.from(`${headerOf({ 18: name })}\r${pieces.join('')}`, 'latin1');
        expect(readAll(bytes).join('')).not.toContain('\u0000');
      }),
      { numRuns: 300 },
    );
  });

  it('comes back from escapes as it went in, with any separators', () => {
    fc.assert(
      fc.property(
        separators,
        fc.array(fc.string({ unit: 'grapheme', maxLength: 12 }), { minLength: 1, maxLength: 4 }),
        fc.string({ unit: 'binary-ascii', maxLength: 12 }),
        (signs, texts, ascii) => {
          // It stands in the name of the character set.
          fc.pre(!signs.includes('-'));
          const header = `MSH${signs}${signs.charAt(0).repeat(16)}UNICODE UTF-8`;
          const message = parseMessage(Buffer.from(`${header}\r`));
          const all = [...texts, ascii.replaceAll('\u0000', '')];
          const written = all.map((text) => encodeEscapes(text, message.separators));
          const segment = `OBX${signs.charAt(0)}${written.join(signs.charAt(1))}`;
          const components = second(Buffer.from(`${header}\r${segment}\r`))
            .field(1)
            .repetition(1);
          expect(all.map((_, index) => components.component(index + 1).text)).toEqual(all);
        },
      ),
    );
  });
});
