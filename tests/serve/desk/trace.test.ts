/** Places in JSON (RFC 8259, pointers RFC 6901) and in HL7 v2 (v2.9.1 §2.5), and bytes shown as inert text. */
import fc from 'fast-check';
import { locateHl7 } from '../../../src/serve/desk/reading/locate-hl7.js';
import { locateJson } from '../../../src/serve/desk/reading/locate-json.js';
import { readText, showText } from '../../../src/serve/desk/reading/show-bytes.js';
import type { Trace } from '../../../src/serve/desk/reading/trace-reading.js';

/** The value that a pointer leads to, by the reading of RFC 6901 §4. */
function valueAt(document: unknown, pointer: string): unknown {
  const steps = pointer.split('/').slice(1);
  return steps.reduce<unknown>((value, step) => {
    const name = step.replaceAll('~1', '/').replaceAll('~0', '~');
    return (value as Record<string, unknown>)[name];
  }, document);
}

function pointersOf(value: unknown, at = ''): string[] {
  if (typeof value !== 'object' || value === null) return [at];
  const steps = Object.entries(value).flatMap(([name, inner]) =>
    pointersOf(inner, `${at}/${name.replaceAll('~', '~0').replaceAll('/', '~1')}`),
  );
  return [at, ...steps];
}

describe('places in JSON', () => {
  it('are those of the very values, for any document and however it is spaced', () => {
    fc.assert(
      fc.property(
        fc.jsonValue({ maxDepth: 4 }),
        fc.constantFrom(0, 1, '\t', '\r\n'),
        (value, indent) => {
          const written = JSON.stringify(value, null, typeof indent === 'number' ? indent : '\t');
          const text = typeof indent === 'string' ? written.replaceAll('\n', '\r\n') : written;
          const document: unknown = JSON.parse(text);
          const found = locateJson(text);
          for (const pointer of pointersOf(document)) {
            const place = found.get(pointer);
            expect(JSON.parse(text.slice(place?.from, place?.to))).toEqual(
              valueAt(document, pointer),
            );
          }
        },
      ),
    );
  });

  it('are none in what is no JSON, and never end in an error', () => {
    fc.assert(fc.property(fc.string(), (text) => locateJson(text) instanceof Map));
    expect(locateJson('{"readings": [').size).toBe(0);
  });

  it('lie behind a byte order mark too', () => {
    const text = '\ufeff{"a": 1}';
    const place = locateJson(text).get('/a');
    expect(text.slice(place?.from, place?.to)).toBe('1');
  });
});

describe('places in HL7 v2', () => {
  const text =
    'MSH|^~\\&|CUFF|LF\rPID|1||LF-7^^^LF\rOBR|1\rOBX|1|NM|150021^MDC_PRESS^MDC||118|266016^MDC_DIM_MMHG^MDC\rOBX|2|NM|x';

  it('are those of the fields, MSH-1 being the separator itself', () => {
    const [msh, pid, , , second] = locateHl7(text);
    const field = (segment: typeof msh, number: number): string => {
      const place = segment?.fields[number];
      return text.slice(place?.from, place?.to);
    };
    expect([1, 2, 3, 4].map((number) => field(msh, number))).toEqual(['|', '^~\\&', 'CUFF', 'LF']);
    expect(field(pid, 3)).toBe('LF-7^^^LF');
    expect([second?.name, second?.occurrence, field(second, 3)]).toEqual(['OBX', 2, 'x']);
  });
});

describe('bytes that are shown', () => {
  it('are no text when they are no UTF-8', () => {
    expect(readText(Buffer.from([0xff, 0x41]))).toBeNull();
    expect(readText(Buffer.from('grün'))).toBe('grün');
  });

  it('of a long message are those about the reading', () => {
    const text = `${'a'.repeat(50_000)}HERE${'b'.repeat(50_000)}`;
    const trace: Trace = { field: 'value', place: '/x', stretch: { from: 50_000, to: 50_004 } };
    const { pieces, before, after } = showText(text, [trace]);
    expect(pieces.find((piece) => piece.trace !== null)?.text).toBe('HERE');
    const shown = pieces.reduce((sum, piece) => sum + piece.text.length, 0);
    expect([shown, before + shown + after]).toEqual([16_384, text.length]);
  });
});
