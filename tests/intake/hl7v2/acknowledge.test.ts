import {
  acknowledge,
  type Acknowledgement,
  type Outcome,
} from '../../../src/intake/hl7v2/acknowledge.js';
import { checkHeader } from '../../../src/intake/hl7v2/check-header.js';
import type { Hl7Fault } from '../../../src/intake/hl7v2/fault.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { bytesOf, headerOf, PATIENT, type HeaderFields } from './messages.js';

const FAULT: Hl7Fault = {
  location: { segment: 'PID', occurrence: 2, field: 3, repetition: 1, component: 4 },
  code: '103',
  severity: 'E',
  text: 'this authority | is not known',
};
const REFUSED: Outcome = { kind: 'refused', as: 'error', faults: [FAULT] };
const REJECTED: Outcome = { kind: 'refused', as: 'reject', faults: [FAULT] };
const KEPT: Outcome = { kind: 'kept' };
const DONE: Outcome = { kind: 'processed', result: 'accept' };
const FAILED: Outcome = { kind: 'processed', result: 'error', faults: [FAULT] };

const TOOLS = {
  now: { epochMs: Date.parse('2026-03-01T09:15:00.250Z'), offsetMinutes: 60 },
  makeId: () => 'GW-17',
  application: 'VITAL SIGNS',
};

function answer(header: string, outcome: Outcome): Acknowledgement | null {
  const checked = checkHeader(parseMessage(bytesOf(header, PATIENT)));
  if (checked.kind === 'noHeader') throw new Error('no header was found');
  return acknowledge(checked.header, outcome, TOOLS);
}

const linesOf = (header: string, outcome: Outcome) =>
  answer(header, outcome)?.bytes.toString('latin1').split('\r');

// HL7 v2.9.1 §2.8.2, §2.8.3 and table 0155; the same connection for NE and AL is our choice.
describe('which acknowledgement is sent', () => {
  it.each<[string, string, Record<'kept' | 'done' | 'failed' | 'refused' | 'rejected', string>]>([
    ['', '', { kept: '-', done: 'AA', failed: 'AE', refused: 'AE', rejected: 'AR' }],
    ['AL', 'NE', { kept: 'CA', done: '-', failed: '-', refused: 'CE', rejected: 'CR' }],
    ['AL', '', { kept: 'CA', done: '-', failed: '-', refused: 'CE', rejected: 'CR' }],
    ['AL', 'AL', { kept: 'CA', done: 'AA own', failed: 'AE own', refused: 'CE', rejected: 'CR' }],
    ['AL', 'ER', { kept: 'CA', done: '-', failed: 'AE own', refused: 'CE', rejected: 'CR' }],
    ['NE', 'AL', { kept: '-', done: 'AA', failed: 'AE', refused: 'AE', rejected: 'AR' }],
    ['', 'AL', { kept: '-', done: 'AA', failed: 'AE', refused: 'AE', rejected: 'AR' }],
    ['NE', 'SU', { kept: '-', done: 'AA', failed: '-', refused: '-', rejected: '-' }],
    ['ER', 'NE', { kept: '-', done: '-', failed: '-', refused: 'CE', rejected: 'CR' }],
    ['SU', 'NE', { kept: 'CA', done: '-', failed: '-', refused: '-', rejected: '-' }],
    [
      'SU',
      'ER',
      { kept: 'CA', done: '-', failed: 'AE own', refused: 'AE own', rejected: 'AR own' },
    ],
    ['NE', 'NE', { kept: '-', done: '-', failed: '-', refused: '-', rejected: '-' }],
  ])('MSH-15 %j and MSH-16 %j', (accept, application, expected) => {
    const header = headerOf({ 15: accept, 16: application });
    const told = (outcome: Outcome) => {
      const due = answer(header, outcome);
      if (due === null) return '-';
      return due.exchange === 'own' ? `${due.code} own` : due.code;
    };
    expect({
      kept: told(KEPT),
      done: told(DONE),
      failed: told(FAILED),
      refused: told(REFUSED),
      rejected: told(REJECTED),
    }).toEqual(expected);
  });
});

describe('the header of an acknowledgement', () => {
  it('turns sender and receiver round and names the message that is answered', () => {
    expect(linesOf(headerOf({ 5: 'OBSGATE^1.2.3^ISO', 6: 'CENTRAL', 18: '8859/1' }), KEPT)).toEqual(
      [
        'MSH|^~\\&|OBSGATE^1.2.3^ISO|CENTRAL|BAYMON^0A1B2CFFFE3D4E5F^EUI-64|NORTH WING|' +
          '20260301101500.250+0100||ACK^R01^ACK|GW-17|P|2.6||||||8859/1',
        'MSA|CA|BM-000481',
        '',
      ],
    );
  });

  it('names the gateway where the sender named nobody', () => {
    expect(linesOf(headerOf(), KEPT)?.[0]).toMatch(/^MSH\|\^~\\&\|VITAL SIGNS\|\|BAYMON\^/);
  });

  it('wants no answer when it opens an exchange of its own (§2.8.3.3)', () => {
    const [own = ''] = linesOf(headerOf({ 15: 'AL', 16: 'AL' }), DONE) ?? [];
    expect(own.split('|').slice(14, 16)).toEqual(['NE', 'NE']);
  });

  it('is written with the separators of the sender, its own words escaped', () => {
    const header = 'MSH+*@!.+WARD++++++ADT*A01+7*1+P*T+2.5*FRA';
    const at = '20260301101500!T!250!F!0100';
    expect(linesOf(header, { kind: 'processed', result: 'accept' })).toEqual([
      `MSH+*@!.+VITAL SIGNS++WARD++${at}++ACK*A01*ACK+GW-17+P*T+2.5*FRA`,
      'MSA+AA+7*1',
      '',
    ]);
  });

  it('has five encoding characters where the sender has them', () => {
    const header = headerOf().replace('\\&', '\\&#');
    expect(linesOf(header, KEPT)?.[0]).toMatch(/^MSH\|\^~\\&#\|/);
  });

  it('fills in what the sender ought to have sent', () => {
    const [line = ''] = linesOf(headerOf({ 9: '', 11: '', 12: '' }), REJECTED) ?? [];
    expect(line.split('|').slice(8)).toEqual(['ACK', 'GW-17', 'P', '2.6']);
  });

  it('declares no character set that it is not written in', () => {
    const [line = ''] = linesOf(headerOf({ 18: 'UNICODE UTF-16' }), REFUSED) ?? [];
    expect(line.split('|')).toHaveLength(12);
  });
});

describe('MSA-2', () => {
  it.each([' A 1 ', '\\F\\x\\', 'A^1&2~3', '\xff\xfe', 'a\x00b', 'x'.repeat(5000), '', '""'])(
    'repeats the control id byte for byte: %j',
    (controlId) => {
      const fields: HeaderFields = { 10: controlId };
      expect(linesOf(headerOf(fields), KEPT)?.[1]).toBe(`MSA|CA|${controlId}`.replace(/\|$/, ''));
    },
  );

  it('repeats characters of GB 18030 that end in the byte of a separator', () => {
    const header = headerOf({ 10: '\x8e\x7c\x8e\x5e', 18: 'GB 18030-2000' });
    expect(linesOf(header, KEPT)?.[1]).toBe('MSA|CA|\x8e\x7c\x8e\x5e');
  });
});

// The form of HL7 v2.9.1 §2.13.5 and of the example of §2.16.2; tables 0357 and 0516.
describe('ERR', () => {
  it('names place, code, severity and the reason', () => {
    expect(linesOf(headerOf(), REFUSED)?.slice(1)).toEqual([
      'MSA|CE|BM-000481',
      'ERR||PID^2^3^1^4|103^Table value not found^HL70357|E||||this authority \\F\\ is not known',
      '',
    ]);
  });

  it('has no place when no part is to blame', () => {
    const faults: readonly Hl7Fault[] = [{ ...FAULT, location: null, code: '207', text: 'full' }];
    expect(linesOf(headerOf(), { kind: 'refused', as: 'error', faults })?.[2]).toBe(
      'ERR|||207^Application error^HL70357|E||||full',
    );
  });

  it('stands once for each fault, the gravest first, and not without end', () => {
    const warning: Hl7Fault = { ...FAULT, severity: 'W' };
    const faults = [warning, ...Array.from({ length: 40 }, () => FAULT)];
    const lines = linesOf(headerOf(), { kind: 'refused', as: 'error', faults }) ?? [];
    expect(lines).toHaveLength(2 + 20 + 1);
    expect(lines[2]).toContain('|E|');
  });

  // ERR-1 with place and code, and MSA-3, as v2.4 had them: from memory; v2.9.1 §2.13.5.1 says until when.
  it.each(['2.3', '2.3.1', '2.4'])('has its older form for senders of version %s', (version) => {
    const two: Outcome = {
      kind: 'refused',
      as: 'error',
      faults: [FAULT, { ...FAULT, code: '101' }],
    };
    expect(linesOf(headerOf({ 12: version }), two)?.slice(1)).toEqual([
      'MSA|CE|BM-000481|this authority \\F\\ is not known',
      'ERR|PID^2^3^103&Table value not found&HL70357~PID^2^3^101&Required field missing&HL70357',
      '',
    ]);
  });
});

it('can itself be read, and is known as an acknowledgement', () => {
  const bytes = answer(headerOf(), REFUSED)?.bytes ?? Buffer.alloc(0);
  const message = parseMessage(bytes);
  expect(message.faults).toEqual([]);
  expect(message.segments[2]?.text(8)).toBe(FAULT.text);
  expect(checkHeader(message).kind).toBe('acknowledgement');
});
