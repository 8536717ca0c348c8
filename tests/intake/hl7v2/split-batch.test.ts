import fc from 'fast-check';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { splitBatch } from '../../../src/intake/hl7v2/split-batch.js';
import { headerOf, messageOf, ORDER, PATIENT, PULSE } from './messages.js';

const one = [headerOf({ 10: 'B-1' }), PATIENT, ORDER, PULSE];
const two = [headerOf({ 10: 'B-2' }), PATIENT.replace('WB-7710', 'WB-7711'), ORDER, PULSE];
const FHS = 'FHS|^~\\&|BAYMON|NORTH WING';
const BHS = 'BHS|^~\\&|BAYMON|NORTH WING';

const split = (...segments: readonly string[]) => {
  const { messages, warnings } = splitBatch(messageOf(...segments));
  return { messages: messages.map((bytes) => Buffer.from(bytes)), warnings };
};

// HL7 v2.9.1 §2.9.3.1: [FHS] { [BHS] { MSH … } [BTS] } [FTS]
describe('a frame', () => {
  it.each([
    ['one message', one, [one]],
    ['a file', [FHS, BHS, ...one, ...two, 'BTS|2', 'FTS|1'], [one, two]],
    ['two batches', [FHS, BHS, ...one, 'BTS|1', BHS, ...two, 'BTS|1', 'FTS|2'], [one, two]],
    ['a batch without a file', [BHS, ...one, ...two, 'BTS|2'], [one, two]],
    ['a batch without a trailer', [BHS, ...one, ...two], [one, two]],
    ['messages without a batch', [...one, ...two], [one, two]],
    ['a trailer without a count', [BHS, ...one, 'BTS', 'FTS'], [one]],
    ['a batch with access restrictions', [BHS, 'ARV|1', ...one, 'BTS|1'], [one]],
    ['an empty batch', [BHS, 'BTS|0'], []],
  ])('holds %s', (_, segments, messages) => {
    expect(split(...segments)).toEqual({
      messages: messages.map((message) => messageOf(...message)),
      warnings: [],
    });
  });

  it.each([
    ['fewer than', 'BTS|3', 'BTS', 2],
    ['more than', 'BTS|1', 'BTS', 2],
    ['not what', 'BTS|many', 'BTS', 2],
  ])('holds messages, %s its trailer counts', (_, trailer, segment, found) => {
    expect(split(BHS, ...one, ...two, trailer)).toMatchObject({
      messages: [messageOf(...one), messageOf(...two)],
      warnings: [
        {
          location: { segment, occurrence: 1, field: 1 },
          severity: 'W',
          text: `${found} messages came; the trailer counts another number`,
        },
      ],
    });
  });

  it('holds another number of batches than its trailer counts', () => {
    expect(split(FHS, BHS, ...one, 'BTS|1', 'FTS|2').warnings).toMatchObject([
      { location: { segment: 'FTS', occurrence: 1, field: 1 }, severity: 'W' },
    ]);
  });

  it('holds segments outside of any message: they are kept, and are no message', () => {
    const { messages } = split(BHS, PATIENT, ...one, 'BTS|1', PULSE);
    expect(messages).toEqual([messageOf(PATIENT), messageOf(...one), messageOf(PULSE)]);
    expect(messages.map((bytes) => parseMessage(bytes).header === null)).toEqual([
      true,
      false,
      true,
    ]);
  });

  it('holds what does not begin with a header as it is', () => {
    const bytes = messageOf(PATIENT, ...one, ...two);
    expect(splitBatch(bytes)).toEqual({ messages: [bytes], warnings: [] });
    expect(parseMessage(bytes).header).toBeNull();
  });

  it.each(['\r\n', '\n'])('may end its lines with %j', (end) => {
    const bytes = Buffer.from([BHS, ...one, ...two, 'BTS|2', ''].join(end));
    const { messages, warnings } = splitBatch(bytes);
    expect(messages.map((message) => parseMessage(message).header?.text(10))).toEqual([
      'B-1',
      'B-2',
    ]);
    expect(warnings).toEqual([]);
  });

  it('may begin with a byte order mark', () => {
    const bytes = Buffer.from(`\ufeff${[BHS, ...one, ...two].join('\r')}`);
    expect(splitBatch(bytes).messages).toHaveLength(2);
  });

  it('may hold messages with other separators than its own', () => {
    expect(split(BHS, ...one, 'MSH$*@!%$$$$$$$ADT*A01$B-3$P$2.5').messages).toHaveLength(2);
  });

  it('may hold texts with lines that begin as a header does', () => {
    const note = 'NTE|1||see\nMSH: page two\nBTS and FTS\nMSHX|';
    expect(split(...one, note).messages).toEqual([messageOf(...one, note)]);
  });

  it('is read for 1000 messages; what follows is one piece, which the reader refuses', () => {
    const { messages } = split(...Array.from({ length: 1200 }, () => headerOf()));
    expect(messages).toHaveLength(1001);
    const faults = messages.map((message) => parseMessage(message).faults.length);
    expect(faults).toEqual([...Array<number>(1000).fill(0), 1]);
  });

  it('loses no byte of any message, wherever the headers are', () => {
    const segment = fc.constantFrom(
      headerOf(),
      PATIENT,
      PULSE,
      FHS,
      BHS,
      'BTS|1',
      'FTS|1',
      'ARV|1',
    );
    fc.assert(
      fc.property(fc.array(segment, { maxLength: 12 }), (segments) => {
        const bytes = messageOf(...segments);
        const { messages } = splitBatch(bytes);
        const kept = messages.map((message) => Buffer.from(message).toString()).join('');
        const envelope = /^(?:FHS|BHS|BTS|FTS|ARV)/;
        const inside = segments.filter((one) => !envelope.test(one));
        for (const one of new Set(inside)) {
          expect(kept.split(one)).toHaveLength(bytes.toString().split(one).length);
        }
      }),
    );
  });
});
