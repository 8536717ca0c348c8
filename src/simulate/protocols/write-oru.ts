/** The message of IHE Devices TF-2, PCD-01: HL7 v2.6 ORU^R01, in the form of Appendices A and B. */
import { encodeEscapes } from '../../intake/hl7v2/escapes.js';
import { RECOMMENDED, encodingCharacters } from '../../intake/hl7v2/separators.js';
import { writeTime } from '../../intake/hl7v2/write-time.js';
import type { Identifier } from '../../vitals/shapes.js';
import { nameOf } from '../device.js';
import type { SimulatedDevice } from '../device.js';
import type { Measurement } from '../measurement.js';
import type { Person } from '../person.js';
import { DEVICE_TYPES, mdcTriplet } from './codes.js';
import { metricRows, type ObxRow } from './obx-rows.js';

/** MSH-3, MSH-4 and MSH-10. */
export interface Envelope {
  readonly application: string;
  readonly facility: string;
  readonly controlId: string;
}

const PROFILE = 'IHE_PCD_001^IHE PCD^1.3.6.1.4.1.19376.1.6.1.1.1^ISO';
const GENDERS = { male: 'M', female: 'F', other: 'O', unknown: 'U' } as const;

type Fields = Readonly<Record<number, string>>;

/** Without the bytes that frame it. */
export function writeOru(measurement: Measurement, envelope: Envelope): Buffer {
  const { device, takenAt } = measurement;
  const order = `${plain(envelope.controlId)}^${plain(envelope.application)}`;
  const segments = [
    headerOf(measurement, envelope),
    patientOf(measurement.claimed),
    visitOf(measurement.claimed),
    segment('OBR', { 1: '1', 2: order, 3: order, 4: orderCodeOf(device), 7: writeTime(takenAt) }),
    ...metricRows(measurement).map((row, index) => observationOf(row, index + 1, device)),
  ];
  return Buffer.from(segments.map((text) => `${text}\r`).join(''), 'utf8');
}

/** Fields that are not given are empty; behind the last one that says something there are none. */
function segment(name: string, fields: Fields): string {
  const given = Object.keys(fields).map(Number);
  const last = Math.max(...given.filter((number) => fields[number] !== ''));
  const texts = Array.from({ length: last }, (_, index) => fields[index + 1] ?? '');
  return [name, ...texts].join('|');
}

function plain(text: string): string {
  return encodeEscapes(text, RECOMMENDED);
}

/** Its first field is the separator itself, so that every other one has moved by one place. */
function headerOf({ sentAt }: Measurement, envelope: Envelope): string {
  return segment('MSH', {
    1: encodingCharacters(RECOMMENDED),
    2: plain(envelope.application),
    3: plain(envelope.facility),
    6: writeTime(sentAt),
    8: 'ORU^R01^ORU_R01',
    9: plain(envelope.controlId),
    10: 'P',
    11: '2.6',
    14: 'AL',
    15: 'NE',
    17: 'UNICODE UTF-8',
    20: PROFILE,
  });
}

function patientOf({ identifier, familyName, givenName, birthDate, gender }: Person): string {
  const name = [familyName ?? '', givenName ?? ''].map(plain);
  return segment('PID', {
    3: `${plain(identifier.value)}^^^${authorityOf(identifier)}^MR`,
    5: `${name.join('^')}^^^^^L`,
    7: (birthDate ?? '').replaceAll('-', ''),
    8: gender === undefined ? '' : GENDERS[gender],
  });
}

/** HD as one component: an OID, or a URI. */
function authorityOf({ system }: Identifier): string {
  const [, oid] = /^urn:oid:([\d.]+)$/.exec(system) ?? [];
  return oid === undefined ? `&${plain(system)}&URI` : `&${oid}&ISO`;
}

/** A ward and a bed, as unit and bed of PL. */
function visitOf({ place, visit }: Person): string {
  const [unit = '', bed = ''] = (place ?? '').split('/').map(plain);
  return segment('PV1', {
    2: 'I',
    3: place === undefined ? '' : `${unit}^^${bed}`,
    ...(visit !== undefined && { 19: `${plain(visit.value)}^^^${authorityOf(visit)}^VN` }),
  });
}

function orderCodeOf({ kind }: SimulatedDevice): string {
  return kind === 'monitor'
    ? '182777000^monitoring of patient^SCT'
    : mdcTriplet(DEVICE_TYPES[kind]);
}

/** OBX-11 is R for every good value of a device: nobody has reviewed it (TF-2, B.8.5). */
function observationOf(row: ObxRow, number: number, device: SimulatedDevice): string {
  const { operator, eui64 } = device;
  const { value = '' } = row;
  return segment('OBX', {
    1: String(number),
    2: value === '' ? '' : 'NM',
    3: mdcTriplet(row.code),
    ...{ 4: row.path, 5: value, 6: row.unit ?? '', 8: row.flag ?? '' },
    11: value === '' ? 'X' : 'R',
    14: row.takenAt === undefined ? '' : writeTime(row.takenAt),
    ...(row.unit !== undefined && operator !== undefined && { 16: personOf(operator) }),
    ...(row.isDevice && { 18: `${plain(nameOf(device))}^^${eui64.replaceAll('-', '')}^EUI-64` }),
    ...(row.site !== undefined && { 20: row.site }),
  });
}

/** XCN. */
function personOf(operator: Identifier): string {
  return `${plain(operator.value)}^^^^^^^^${authorityOf(operator)}`;
}
