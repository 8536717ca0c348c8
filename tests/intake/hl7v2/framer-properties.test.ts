import fc from 'fast-check';
import { Framer } from '../../../src/intake/hl7v2/framer.js';
import type { DiscardedFrame, WholeFrame } from '../../../src/intake/hl7v2/framer.js';
import { readFrames } from './wire-client.js';

const LIMIT = 12;

/** Mostly the bytes that matter, so that all their orders come up. */
const anyByte = fc.oneof(
  { weight: 3, arbitrary: fc.constantFrom(0x0b, 0x1c, 0x0d) },
  { weight: 2, arbitrary: fc.constantFrom(0x41, 0x42, 0x00, 0x0a) },
  { weight: 1, arbitrary: fc.integer({ min: 0, max: 255 }) },
);
const anyStream = fc.array(anyByte, { maxLength: 200 }).map((bytes) => Buffer.from(bytes));

interface Reading {
  readonly framed: (WholeFrame | DiscardedFrame)[];
  readonly junkBytes: number;
}

/** Reads the stream in chunks of these lengths, again and again, then ends it. */
function readInChunks(stream: Buffer, lengths: readonly number[], limit = LIMIT): Reading {
  const framer = new Framer(limit);
  const framed: (WholeFrame | DiscardedFrame)[] = [];
  for (let at = 0, turn = 0; at < stream.length; turn += 1) {
    const next = at + (lengths[turn % lengths.length] ?? stream.length);
    framed.push(...framer.feed(stream.subarray(at, next)));
    at = next;
  }
  const unfinished = framer.end();
  if (unfinished !== undefined) framed.push(unfinished);
  return { framed, junkBytes: framer.junkBytes };
}

const framesOf = ({ framed }: Reading): string[] =>
  framed.filter(({ kind }) => kind === 'frame').map(({ bytes }) => bytes.toString('latin1'));

/** How many start blocks, end blocks and carriage returns were read with the data. */
function blockBytesOf(framed: WholeFrame | DiscardedFrame, stream: Buffer): number {
  if (framed.kind === 'frame') return 3;
  if (framed.reason === 'unfinished') return stream.at(-1) === 0x1c ? 2 : 1;
  return framed.reason === 'end-block-alone' ? 2 : 1;
}

describe('any stream of bytes', () => {
  it('gives the same, however it is chunked', () => {
    fc.assert(
      fc.property(
        anyStream,
        fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1, maxLength: 20 }),
        (stream, lengths) => {
          expect(readInChunks(stream, lengths)).toEqual(readInChunks(stream, []));
        },
      ),
      { numRuns: 1000 },
    );
  });

  // The whole of the protocol as one expression, from the block definition of the MLLP specification.
  it('gives every start block, data without block bytes, end block, carriage return, and nothing else', () => {
    fc.assert(
      fc.property(anyStream, (stream) => {
        const expected = readFrames(stream.toString('latin1')).filter(
          ({ length }) => length <= LIMIT,
        );
        expect(framesOf(readInChunks(stream, []))).toEqual(expected);
      }),
      { numRuns: 1000 },
    );
  });

  it('is accounted for to the last byte', () => {
    fc.assert(
      fc.property(anyStream, (stream) => {
        const { framed, junkBytes } = readInChunks(stream, []);
        const inFrames = framed.map((one) => one.bytes.length + blockBytesOf(one, stream));
        expect(inFrames.reduce((sum, bytes) => sum + bytes, junkBytes)).toBe(stream.length);
      }),
      { numRuns: 1000 },
    );
  });
});

describe('messages of two patients', () => {
  /** The data of a message are copies of one letter, so that a frame shows of whom it is. */
  const letters = fc.array(fc.constantFrom('A', 'B', 'C', 'D'), { minLength: 2, maxLength: 6 });
  const framed = (letter: string): number[] => [0x0b, ...Buffer.from(letter.repeat(8)), 0x1c, 0x0d];
  const place = fc.nat();
  const junk = fc.array(fc.constantFrom(0x0b, 0x1c, 0x0d, 0x00, 0x0a, 0x20, 0xff), {
    minLength: 1,
    maxLength: 5,
  });

  const expectUnmixed = (bytes: readonly number[]): void => {
    for (const data of framesOf(readInChunks(Buffer.from(bytes), [7]))) {
      expect(new Set(data.replace(/[^A-D]/g, '')).size).toBeLessThanOrEqual(1);
    }
  };

  it('never meet in a frame, whatever is put in between or within', () => {
    fc.assert(
      fc.property(
        letters,
        fc.array(fc.tuple(place, junk), { minLength: 1, maxLength: 5 }),
        (all, inserts) => {
          const bytes = all.flatMap(framed);
          for (const [at, inserted] of inserts)
            bytes.splice(at % (bytes.length + 1), 0, ...inserted);
          expectUnmixed(bytes);
        },
      ),
      { numRuns: 1000 },
    );
  });

  it('never meet in a frame, wherever one is cut off', () => {
    fc.assert(
      fc.property(letters, place, place, (all, which, kept) => {
        const messages = all.map(framed);
        const cut = which % messages.length;
        messages[cut] = (messages[cut] ?? []).slice(0, kept % 11);
        expectUnmixed(messages.flat());
      }),
    );
  });

  it('all arrive whole, whatever junk without a start block stands between them', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.constantFrom('A', 'B', 'C'), junk)), (all) => {
        const bytes = all.flatMap(([letter, noise]) => [
          ...noise.filter((byte) => byte !== 0x0b),
          ...framed(letter),
        ]);
        const expected = all.map(([letter]) => letter.repeat(8));
        expect(framesOf(readInChunks(Buffer.from(bytes), [5]))).toEqual(expected);
      }),
    );
  });
});
