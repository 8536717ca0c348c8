import { Framer, wrapFrame } from '../../../src/intake/hl7v2/framer.js';
import { message } from './wire-client.js';

/** All that comes of a stream, in words: the data of frames, and reason and data of what is thrown away. */
function read(framer: Framer, ...chunks: string[]): string[] {
  return chunks.flatMap((chunk) =>
    [...framer.feed(Buffer.from(chunk, 'latin1'))].map((framed) => {
      const data = framed.bytes.toString('latin1');
      return framed.kind === 'frame' ? data : `${framed.reason}: ${data}`;
    }),
  );
}

// Block bytes and their order: HL7 v3 Transport Specification: MLLP, Release 2 (ANSI/HL7 V3 TRMLLP, R2-2006).
describe('a stream of bytes', () => {
  it.each<[string, string, string[], number]>([
    ['one frame', '\x0bA|1\x1c\r', ['A|1'], 0],
    ['two frames in one chunk', '\x0bA|1\x1c\r\x0bB|2\x1c\r', ['A|1', 'B|2'], 0],
    ['line ends within a frame', '\x0bA\rB\r\nC\n\x1c\r', ['A\rB\r\nC\n'], 0],
    [
      'NUL and all other bytes within a frame',
      '\x0b\0\x01\x0c\x1b\x1d\x7f\xff\x1c\r',
      ['\0\x01\x0c\x1b\x1d\x7f\xff'],
      0,
    ],
    [
      'a frame that was cut, and the next',
      '\x0bA|1\rPID|\x0bB|2\x1c\r',
      ['cut-by-start-block: A|1\rPID|', 'B|2'],
      0,
    ],
    [
      'no end block, and the next',
      '\x0bA|1\r\x0bB|2\x1c\r',
      ['cut-by-start-block: A|1\r', 'B|2'],
      0,
    ],
    [
      'an end block alone, and the next',
      '\x0bA|1\x1c\x0bB|2\x1c\r',
      ['end-block-alone: A|1', 'B|2'],
      0,
    ],
    [
      'an end block with a line feed',
      '\x0bA|1\x1c\n\x0bB|2\x1c\r',
      ['end-block-alone: A|1', 'B|2'],
      1,
    ],
    ['two end blocks', '\x0bA|1\x1c\x1c\r\x0bB|2\x1c\r', ['end-block-alone: A|1', 'B|2'], 2],
    ['a start block within the data', '\x0bA|1\x0b|2\x1c\r', ['cut-by-start-block: A|1', '|2'], 0],
    [
      'an end block within the data',
      '\x0bA|\x1c1\x1c\r\x0bB|2\x1c\r',
      ['end-block-alone: A|', 'B|2'],
      3,
    ],
    ['two start blocks', '\x0b\x0bA|1\x1c\r', ['cut-by-start-block: ', 'A|1'], 0],
    ['an empty frame', '\x0b\x1c\r\x0bB|2\x1c\r', ['', 'B|2'], 0],
    [
      'junk before, between and after',
      'GET /\r\n\x0bA|1\x1c\r\r\n\0\x0bB|2\x1c\rX',
      ['A|1', 'B|2'],
      11,
    ],
    ['end blocks outside of a frame', '\x1c\r\x1c\x0bA|1\x1c\r\x1c\r', ['A|1'], 5],
    ['a message without any block byte', 'MSH|^~\\&|A\rPID|1\r', [], 17],
    ['nothing', '', [], 0],
  ])('%s', (_, bytes, expected, junkBytes) => {
    const whole = new Framer();
    expect(read(whole, bytes)).toEqual(expected);
    expect(whole.junkBytes).toBe(junkBytes);
    expect(whole.isMidFrame).toBe(false);
    const byByte = new Framer();
    expect(read(byByte, ...Array.from(bytes))).toEqual(expected);
    expect(byByte.junkBytes).toBe(junkBytes);
  });

  it('gives back a frame that has no end, once', () => {
    const framer = new Framer();
    for (const [bytes, kept] of [
      ['\x0bA|1', 'A|1'],
      ['\x0bB|2\x1c', 'B|2'],
      ['\x0b', ''],
    ] as const) {
      expect(read(framer, bytes)).toEqual([]);
      expect(framer.isMidFrame).toBe(true);
      expect(framer.end()).toEqual({
        kind: 'discarded',
        reason: 'unfinished',
        bytes: Buffer.from(kept),
      });
      expect(framer.end()).toBeUndefined();
    }
  });

  it('keeps nothing of the chunk, which its owner may use again', () => {
    const chunk = Buffer.from('\x0bA|1\x1c\r\x0bB|');
    const framer = new Framer();
    const [first] = [...framer.feed(chunk)];
    chunk.fill(0x58);
    expect(first?.bytes.toString()).toBe('A|1');
    expect(read(framer, '2\x1c\r')).toEqual(['B|2']);
  });
});

describe('the longest frame', () => {
  it('is 1 MiB of data unless told otherwise', () => {
    const mebibyte = 'x'.repeat(1024 * 1024);
    expect(read(new Framer(), `\x0b${mebibyte}\x1c\r`)).toEqual([mebibyte]);
    expect(read(new Framer(), `\x0b${mebibyte}y\x1c\r`)).toEqual([`too-long: ${mebibyte}`]);
  });

  it('may be filled to the last byte; one more throws it away up to the next start block', () => {
    expect(read(new Framer(4), '\x0bABCD\x1c\r')).toEqual(['ABCD']);
    const framer = new Framer(4);
    expect(read(framer, '\x0bABCDEF\x1c\rGH\x0bIJKL\x1c\r')).toEqual(['too-long: ABCD', 'IJKL']);
    expect(framer.junkBytes).toBe('EF\x1c\rGH'.length);
  });

  it('holds no more than the limit of a frame that never ends', () => {
    const framer = new Framer();
    const chunk = Buffer.alloc(64 * 1024, 'x');
    const before = process.memoryUsage().arrayBuffers;
    expect([...framer.feed(Buffer.from('\x0b'))]).toEqual([]);
    let discarded = 0;
    for (let fed = 0; fed < 64 * 1024 * 1024; fed += chunk.length) {
      for (const { bytes } of framer.feed(chunk)) discarded += bytes.length;
    }
    expect(discarded).toBe(1024 * 1024);
    expect(framer.junkBytes).toBe(63 * 1024 * 1024);
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(8 * 1024 * 1024);
  });

  // Were the data copied anew for each byte, this would move half a terabyte.
  it('may come byte by byte', () => {
    const framer = new Framer();
    const data = message('1', 'ADLER').repeat(3000);
    const bytes = Buffer.from(`\x0b${data}\x1c\r`);
    const frames: string[] = [];
    for (let at = 0; at < bytes.length; at += 1) {
      for (const framed of framer.feed(bytes.subarray(at, at + 1)))
        frames.push(framed.bytes.toString());
    }
    expect(frames).toEqual([data]);
    expect(data.length).toBeGreaterThan(900_000);
  });
});

describe('putting data into a frame', () => {
  it('adds the block bytes', () => {
    expect(wrapFrame(Buffer.from('MSH|'))).toEqual(Buffer.from('\x0bMSH|\x1c\r'));
  });

  it.each(['MSA|AA|1\x0b', '\x1c', 'a\x1c\rb'])(
    'refuses %j, which would be read as other frames',
    (data) => {
      expect(() => wrapFrame(Buffer.from(data))).toThrow(RangeError);
    },
  );
});
