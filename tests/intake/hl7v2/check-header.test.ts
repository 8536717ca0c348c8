import { checkHeader, type HeaderCheck } from '../../../src/intake/hl7v2/check-header.js';
import type { Hl7Header } from '../../../src/intake/hl7v2/header.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import {
  bytesOf,
  headerOf,
  messageOf,
  ORDER,
  PATIENT,
  PULSE,
  type HeaderFields,
} from './messages.js';

const check = (fields: HeaderFields = {}): HeaderCheck =>
  checkHeader(parseMessage(messageOf(headerOf(fields), PATIENT, ORDER, PULSE)));

function headerIn(fields: HeaderFields): Hl7Header {
  const checked = check(fields);
  if (checked.kind === 'noHeader') throw new Error('no header was found');
  return checked.header;
}

function purposeOf(fields: HeaderFields): string {
  const checked = check(fields);
  return checked.kind === 'accepted' ? checked.purpose : checked.kind;
}

/** How a header is refused, each fault as its code and place. */
function refusalOf(fields: HeaderFields) {
  const checked = check(fields);
  if (checked.kind !== 'refused') return checked.kind;
  const places = checked.faults
    .filter((fault) => fault.severity === 'E')
    .map(({ code, location }) => [code, location?.field, location?.component]);
  return [checked.as, ...places];
}

describe('a header that is taken', () => {
  it('is read', () => {
    expect(headerIn({ 17: 'USA', 19: 'EN' })).toMatchObject({
      application: {
        namespace: 'BAYMON',
        universalId: '0A1B2CFFFE3D4E5F',
        universalIdType: 'EUI-64',
      },
      facility: { namespace: 'NORTH WING', universalId: '', universalIdType: '' },
      sentText: '20260301101500+0100',
      zone: { kind: 'offset', minutes: 60 },
      messageType: 'ORU',
      event: 'R01',
      processingId: 'P',
      version: '2.6',
      mode: { kind: 'enhanced', accept: 'AL', application: 'NE' },
      country: 'USA',
      profiles: [{ name: 'IHE_PCD_001', oid: '1.3.6.1.4.1.19376.1.6.1.1.1' }],
    });
  });

  it.each(['2.3', '2.3.1', '2.4', '2.5.1', '2.7', '2.9.1', '2.5^FRA^2.11'])(
    'may be of version %s',
    (version) => {
      expect(check({ 12: version }).kind).toBe('accepted');
    },
  );

  it.each(['P', 'D', 'T', 'P^T'])('may have the processing id %s (table 0103)', (id) => {
    expect(check({ 11: id }).kind).toBe('accepted');
  });

  it.each(['A01', 'A02', 'A03', 'A04', 'A08', 'A11', 'A12', 'A13', 'A40'])(
    'may tell of a patient: ADT^%s',
    (event) => {
      expect(purposeOf({ 9: `ADT^${event}` })).toBe('patient');
    },
  );

  // The OIDs of MSH-21: IHE Devices TF-2 App. B, and its supplement Point-of-Care Identity Management.
  it.each([
    ['observations', 'PCD_DEC_001^IHE PCD^1.3.6.1.4.1.19376.1.6.1.1.1^ISO'],
    ['observations', ''],
    ['observations', 'IHE_DEV_051^IHE PCD^1.3.6.1.4.1.19376.1.6.1.1.1^ISO'],
    ['association', 'ANY NAME^^1.3.6.1.4.1.19376.1.6.1.51.1^ISO'],
    ['association', 'ANY NAME^^1.3.6.1.4.1.19376.1.6.1.52.1^ISO'],
    ['association', 'A^^1.2.3^ISO~B^^1.3.6.1.4.1.19376.1.6.1.51.1^ISO'],
  ])('tells %s by its profile: %s', (purpose, profile) => {
    expect(purposeOf({ 21: profile })).toBe(purpose);
  });

  it.each([
    ['20260301101500-0330', { kind: 'offset', minutes: -210 }],
    ['20260301101500-0000', { kind: 'offset', minutes: 0 }],
    ['20260301101500', null],
    ['', null],
    ['01.03.2026', null],
  ])('lends its zone to other times: MSH-7 %s', (sent, zone) => {
    const checked = check({ 7: sent });
    expect(checked).toMatchObject({ kind: 'accepted', header: { sentText: sent, zone } });
  });

  it.each([
    [7, '', '101'],
    [7, '20261301', '102'],
    [15, 'al', '103'],
    [16, 'MAYBE', '103'],
  ])('may have small faults: MSH-%d %j', (field, value, code) => {
    expect(check({ [field]: value })).toMatchObject({
      kind: 'accepted',
      warnings: [{ code, severity: 'W', location: { segment: 'MSH', occurrence: 1, field } }],
    });
  });
});

// HL7 v2.9.1 §2.8.2.1 and §2.8.3.2: what is rejected and what is an error; codes of table 0357.
describe('a header that is refused', () => {
  it.each<[string, HeaderFields, unknown]>([
    ['another type', { 9: 'ORM^O01' }, ['reject', ['200', 9, 1]]],
    ['an alert', { 9: 'ORU^R40^ORU_R40' }, ['reject', ['201', 9, 2]]],
    ['another event', { 9: 'ADT^A05' }, ['reject', ['201', 9, 2]]],
    ['no event', { 9: 'ORU' }, ['reject', ['201', 9, 2]]],
    ['no type', { 9: '' }, ['reject', ['101', 9, undefined]]],
    ['the wrong case', { 9: 'oru^r01' }, ['reject', ['200', 9, 1]]],
    ['another processing id', { 11: 'X' }, ['reject', ['202', 11, 1]]],
    ['no processing id', { 11: '' }, ['reject', ['101', 11, undefined]]],
    ['a version to come', { 12: '3.0' }, ['reject', ['203', 12, 1]]],
    ['a version long gone', { 12: '2.2' }, ['reject', ['203', 12, 1]]],
    ['a version that starts as another', { 12: '2.6x' }, ['reject', ['203', 12, 1]]],
    ['no version', { 12: '' }, ['reject', ['101', 12, undefined]]],
    ['no control id', { 10: '' }, ['error', ['101', 10, undefined]]],
    ['a blank control id', { 10: '  ' }, ['error', ['101', 10, undefined]]],
    ['a deleted control id', { 10: '""' }, ['error', ['101', 10, undefined]]],
    ['a long control id', { 10: 'x'.repeat(200) }, ['error', ['104', 10, undefined]]],
    ['another character set', { 18: 'UNICODE UTF-16' }, ['error', ['103', 18, undefined]]],
    [
      'several of these',
      { 9: 'SIU^S12', 10: '', 12: '1.0' },
      ['reject', ['200', 9, 1], ['101', 10, undefined], ['203', 12, 1]],
    ],
  ])('for %s', (_, fields, refusal) => {
    expect(refusalOf(fields)).toEqual(refusal);
  });

  it('takes a control id of 199 characters, whatever their bytes', () => {
    expect(check({ 10: 'x'.repeat(199), 18: 'UNICODE UTF-8' }).kind).toBe('accepted');
    expect(check({ 10: 'ä'.repeat(199), 18: 'UNICODE UTF-8' }).kind).toBe('accepted');
  });

  it('for its separators alone, because nothing else can be told', () => {
    const checked = checkHeader(parseMessage(messageOf('MSH|^^\\&|A')));
    expect(checked).toMatchObject({ kind: 'refused', as: 'reject', faults: [{ code: '102' }] });
  });

  it('for having nothing but a name', () => {
    const checked = checkHeader(parseMessage(Buffer.from('MSH|^~\\&\r')));
    expect(checked).toMatchObject({ kind: 'refused', as: 'reject' });
  });

  it('for a second header in one message', () => {
    const checked = checkHeader(parseMessage(messageOf(headerOf(), headerOf())));
    expect(checked).toMatchObject({ kind: 'refused', as: 'error', faults: [{ code: '100' }] });
  });
});

describe('what is never answered', () => {
  it.each(['ACK', 'ACK^R01', 'ACK^R01^ACK', 'ACK '])('%s', (type) => {
    expect(check({ 9: type }).kind).toBe('acknowledgement');
  });

  it('is an acknowledgement that names another type', () => {
    const bytes = messageOf(headerOf(), 'MSA|AA|GW-17');
    expect(checkHeader(parseMessage(bytes)).kind).toBe('acknowledgement');
  });

  it('is an acknowledgement with separators that cannot be read', () => {
    const bytes = messageOf('MSH|^^\\&|A|B|C|D|2026||ACK^R01|7|P|2.6', 'MSA|AA|GW-17');
    expect(checkHeader(parseMessage(bytes)).kind).toBe('acknowledgement');
  });

  it('is no message with readings, though it has an MSA', () => {
    const bytes = messageOf(headerOf(), 'MSA|AA|GW-17', PATIENT, ORDER, PULSE);
    expect(checkHeader(parseMessage(bytes)).kind).toBe('accepted');
  });

  it('is something without a header', () => {
    expect(checkHeader(parseMessage(messageOf(PATIENT))).kind).toBe('noHeader');
  });
});

it('keeps the control id byte for byte', () => {
  const bytes = bytesOf(headerOf({ 10: ' A\\F\\^1~\xff\x00 ' }), PATIENT);
  const checked = checkHeader(parseMessage(bytes));
  expect(checked).toMatchObject({
    kind: 'accepted',
    header: { controlIdBytes: Buffer.from(' A\\F\\^1~\xff\x00 ', 'latin1') },
  });
});
