import fc from 'fast-check';
import { splitLines } from '../../../src/serve/sets/split-lines.js';

const LIMITS = { maxLineBytes: 20, maxBodyBytes: 200 };

// eslint-disable-next-line @typescript-eslint/require-await -- a body is an asynchronous iterable
async function* inChunks(body: Buffer, sizes: readonly number[]): AsyncGenerator<Buffer> {
  let start = 0;
  for (let i = 0; start < body.length; i += 1) {
    const size = sizes[i % sizes.length] ?? 1;
    yield body.subarray(start, start + size);
    start += size;
  }
}

async function split(body: Buffer, sizes: readonly number[] = [7]): Promise<string[]> {
  const lines: string[] = [];
  for await (const line of splitLines(inChunks(body, sizes), LIMITS)) {
    lines.push(line.kind === 'line' ? line.bytes.toString() : line.kind);
  }
  return lines;
}

describe('lines of a streamed body', () => {
  it.each([
    ['one, without an end', '{}', ['{}']],
    ['several', '1\n2\n3\n', ['1', '2', '3']],
    ['with carriage returns', '1\r\n2\r\n', ['1', '2']],
    ['blank ones between', '\n1\n \t\r\n\n2\n\n', ['1', '2']],
    ['none at all', '', []],
    ['a carriage return inside', '1\r2\n', ['1\r2']],
    ['just short enough', `${'x'.repeat(20)}\n1`, ['x'.repeat(20), '1']],
    ['just short enough, with a carriage return', `${'x'.repeat(20)}\r\n1`, ['x'.repeat(20), '1']],
    ['one too long', `${'x'.repeat(21)}\n1`, ['line-too-long', '1']],
    ['one far too long', `1\n${'x'.repeat(90)}\n2`, ['1', 'line-too-long', '2']],
    ['the last one too long', `1\n${'x'.repeat(50)}`, ['1', 'line-too-long']],
  ])('%s', async (_name, body, lines) => {
    expect(await split(Buffer.from(body))).toEqual(lines);
  });

  it('keeps bytes that are no UTF-8 as they are', async () => {
    const bytes = Buffer.from([0xff, 0xfe, 0x0a, 0x31]);
    const lines: Buffer[] = [];
    for await (const line of splitLines(inChunks(bytes, [1]), LIMITS)) {
      if (line.kind === 'line') lines.push(line.bytes);
    }
    expect(lines).toEqual([Buffer.from([0xff, 0xfe]), Buffer.from('1')]);
  });

  it('tells that the body is too long, and ends', async () => {
    const lines = await split(Buffer.from('123456789\n'.repeat(30)), [10]);
    expect(lines).toEqual([...Array.from({ length: 20 }, () => '123456789'), 'body-too-long']);
  });

  it('does not depend on where the chunks end', async () => {
    const text = fc.stringMatching(/^[ax \r\n]{0,120}$/);
    const sizes = fc.array(fc.integer({ min: 1, max: 50 }), { minLength: 1 });
    await fc.assert(
      fc.asyncProperty(text, sizes, async (body, pieces) => {
        const whole = await split(Buffer.from(body), [1000]);
        expect(await split(Buffer.from(body), pieces)).toEqual(whole);
      }),
    );
  });
});
