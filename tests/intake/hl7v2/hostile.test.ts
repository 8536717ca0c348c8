import fc from 'fast-check';
import { acknowledge, type Outcome } from '../../../src/intake/hl7v2/acknowledge.js';
import { checkHeader } from '../../../src/intake/hl7v2/check-header.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { splitBatch } from '../../../src/intake/hl7v2/split-batch.js';
import {
  bytesOf,
  headerOf,
  messageOf,
  ORDER,
  PATIENT,
  PULSE,
  type HeaderFields,
} from './messages.js';

const TOOLS = {
  now: { epochMs: Date.parse('2026-03-01T09:15:00Z'), offsetMinutes: 0 },
  makeId: () => 'GW-17',
  application: 'VITAL SIGNS',
};

/** What goes back for one frame, when all that may be kept is kept. */
function answersTo(frame: Uint8Array): readonly string[] {
  return splitBatch(frame).messages.flatMap((bytes) => {
    const checked = checkHeader(parseMessage(bytes));
    if (checked.kind === 'noHeader' || checked.kind === 'acknowledgement') return [];
    const outcomes: readonly Outcome[] =
      checked.kind === 'refused'
        ? [checked]
        : [{ kind: 'kept' }, { kind: 'processed', result: 'accept' }];
    return outcomes.flatMap((outcome) => {
      const answer = acknowledge(checked.header, outcome, TOOLS);
      return answer === null ? [] : [answer.bytes.toString('latin1')];
    });
  });
}

/** Code, control id, and place and code of each error. */
function shortly(frame: Uint8Array): readonly string[] {
  return answersTo(frame).map((text) => {
    const [, msa = '', ...errors] = text.split('\r');
    const places = errors.filter(Boolean).map((error) => {
      const [, , place = '', code = ''] = error.split('|');
      return ` ${code.slice(0, 3)} ${place}`;
    });
    return msa.replace('MSA|', '') + places.join('');
  });
}

const body = [PATIENT, ORDER, PULSE];
const withHeader = (fields: HeaderFields) => messageOf(headerOf(fields), ...body);
const latin1With = (fields: HeaderFields, pid: string) => bytesOf(headerOf(fields), pid, ...body);
const ended = (end: string) => Buffer.from([headerOf(), ...body, ''].join(end));
const OLD = { 15: '', 16: '' };

describe('the answer to a frame', () => {
  it.each<[string, Uint8Array, readonly string[]]>([
    ['a message', withHeader({}), ['CA|BM-000481']],
    ['a message in original mode', withHeader(OLD), ['AA|BM-000481']],
    ['an empty frame', Buffer.alloc(0), []],
    ['words', Buffer.from('HELLO WORLD'), []],
    ['a request of another protocol', Buffer.from('GET / HTTP/1.1\r\n\r\n'), []],
    ['no MSH', messageOf(...body), []],
    ['MSH behind other segments', messageOf(PATIENT, headerOf(), ...body), []],
    ['MSH in small letters', messageOf(headerOf().toLowerCase(), ...body), []],
    ['UTF-16', Buffer.from(`\ufeff${headerOf()}\r`, 'utf16le'), []],
    ['three letters', Buffer.from('MSH'), ['AR 102 MSH^1^1']],
    ['MSH alone', messageOf('MSH|'), ['AR 102 MSH^1^2']],
    [
      'MSH and separators alone',
      messageOf('MSH|^~\\&'),
      ['AR 101 MSH^1^9 101 MSH^1^10 101 MSH^1^11 101 MSH^1^12 101 MSH^1^7'],
    ],
    ['MSH alone, but whole', messageOf(headerOf()), ['CA|BM-000481']],
    [
      'a repeated separator',
      messageOf(headerOf().replace('^~', '^^'), ...body),
      ['CR|BM-000481 102 MSH^1^2'],
    ],
    [
      'a letter as separator',
      messageOf(headerOf().replaceAll('|', 'Q'), ...body),
      ['AR 102 MSH^1^1'],
    ],
    ['a version to come', withHeader({ 12: '9.9' }), ['CR|BM-000481 203 MSH^1^12^1^1']],
    [
      'a version to come, original mode',
      withHeader({ ...OLD, 12: '9.9' }),
      ['AR|BM-000481 203 MSH^1^12^1^1'],
    ],
    ['an unknown type', withHeader({ 9: 'XYZ^R01' }), ['CR|BM-000481 200 MSH^1^9^1^1']],
    ['an alert', withHeader({ 9: 'ORU^R40^ORU_R40' }), ['CR|BM-000481 201 MSH^1^9^1^2']],
    ['an unknown processing id', withHeader({ 11: 'Q' }), ['CR|BM-000481 202 MSH^1^11^1^1']],
    ['a training message', withHeader({ 11: 'T' }), ['CA|BM-000481']],
    ['no control id', withHeader({ 10: '' }), ['CE 101 MSH^1^10']],
    [
      'a long control id',
      withHeader({ 10: 'y'.repeat(300) }),
      [`CE|${'y'.repeat(300)} 104 MSH^1^10`],
    ],
    ['escapes in the control id', withHeader({ 10: '\\F\\7\\X0D\\' }), ['CA|\\F\\7\\X0D\\']],
    ['separators in the control id', withHeader({ 10: '7^1~2&3' }), ['CA|7^1~2&3']],
    ['NUL in the control id', withHeader({ 10: '7\x008' }), ['CA|7\x008']],
    ['NUL in the text', latin1With({}, 'PID|||\x00WB\x00|'), ['CA|BM-000481']],
    [
      'declared UTF-8 that is none',
      latin1With({ 18: 'UNICODE UTF-8' }, 'PID|||1||M\xfcller'),
      ['CA|BM-000481'],
    ],
    ['undeclared bytes', latin1With({}, 'PID|||1||M\xfcller'), ['CA|BM-000481']],
    ['an unknown character set', withHeader({ 18: 'KLINGON' }), ['CE|BM-000481 103 MSH^1^18']],
    ['UTF-16 by its name', withHeader({ 18: 'UNICODE UTF-16' }), ['CE|BM-000481 103 MSH^1^18']],
    ['line feeds', ended('\n'), ['CA|BM-000481']],
    ['carriage returns and line feeds', ended('\r\n'), ['CA|BM-000481']],
    [
      'two messages',
      messageOf(headerOf({ 10: '1' }), ...body, headerOf({ 10: '2' }), ...body),
      ['CA|1', 'CA|2'],
    ],
    [
      'a good and a bad message',
      messageOf(headerOf({ 10: '1' }), headerOf({ 10: '2', 12: '1' })),
      ['CA|1', 'CR|2 203 MSH^1^12^1^1'],
    ],
    ['a lost segment name', messageOf(headerOf(), 'ID|||1', ...body), ['CA|BM-000481']],
    ['an acknowledgement', messageOf(headerOf({ 9: 'ACK^R01^ACK' }), 'MSA|AA|1'), []],
    ['an acknowledgement of an unknown version', messageOf(headerOf({ 9: 'ACK', 12: '9' })), []],
    ['nothing wanted', withHeader({ 15: 'NE', 16: 'NE' }), []],
    ['nothing wanted of a bad one', withHeader({ 12: '9', 15: 'NE', 16: 'NE' }), []],
    ['both wanted', withHeader({ 16: 'AL' }), ['CA|BM-000481', 'AA|BM-000481']],
    [
      '100,000 segments',
      Buffer.from(`${headerOf()}\r${'ZZZ|\r'.repeat(100_000)}`),
      ['CA|BM-000481'],
    ],
    ['100,000 repetitions in MSH', withHeader({ 21: '~'.repeat(100_000) }), ['CA|BM-000481']],
    ['100,000 escapes', withHeader({ 3: '\\F\\'.repeat(100_000) }), ['CA|BM-000481']],
    ['100,000 open escapes', withHeader({ 3: '\\X'.repeat(100_000) }), ['CA|BM-000481']],
  ])('%s', (_, frame, answers) => {
    expect(shortly(frame)).toEqual(answers);
  });

  it('can be read, whatever the frame', () => {
    const field = fc.string({ unit: 'binary', maxLength: 8 });
    const frames = fc.oneof(
      fc.uint8Array({ maxLength: 200 }),
      fc.array(field, { maxLength: 24 }).map((fields) => bytesOf(`MSH|^~\\&|${fields.join('|')}`)),
      fc.string({ unit: 'binary', maxLength: 60 }).map((text) => bytesOf(`MSH${text}`)),
    );
    fc.assert(
      fc.property(frames, (frame) => {
        for (const answer of answersTo(frame)) {
          const message = parseMessage(Buffer.from(answer, 'latin1'));
          expect(message.segments[1]?.id).toBe('MSA');
          expect(message.faults.filter((fault) => fault.severity === 'E')).toEqual([]);
        }
      }),
    );
  });
});
