import type {
  AssociationDelivery,
  ObservationDelivery,
  PatientDelivery,
} from '../../../src/intake/hl7v2/delivery.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { readHl7 } from '../../../src/intake/hl7v2/read-hl7.js';
import type { IncomingReading } from '../../../src/vitals/shapes.js';
import { NO_MAPPING, type SourceProfile } from '../../../src/vitals/source-profile.js';
import { headerOf, messageOf, PATIENT, type HeaderFields } from './messages.js';

/** A source whose messages tell all they have to. */
export const PROFILE: SourceProfile = {
  attended: false,
  zone: null,
  defaultAuthority: null,
  authorities: { NORTHMRN: 'urn:example:mrn' },
  mapping: NO_MAPPING,
};

export interface Circumstances {
  readonly header?: HeaderFields;
  readonly profile?: Partial<SourceProfile>;
}

function read(segments: readonly string[], { header, profile }: Circumstances) {
  const bytes = messageOf(headerOf(header), ...segments);
  return readHl7(parseMessage(bytes), { ...PROFILE, ...profile });
}

export function observationsIn(
  segments: readonly string[],
  circumstances: Circumstances = {},
): ObservationDelivery {
  const delivery = read(segments, circumstances);
  if (delivery.kind !== 'observations') throw new Error(`read as ${delivery.kind}`);
  return delivery;
}

export function associationsIn(
  segments: readonly string[],
  circumstances: Circumstances = {},
): AssociationDelivery {
  const delivery = read(segments, circumstances);
  if (delivery.kind !== 'associations') throw new Error(`read as ${delivery.kind}`);
  return delivery;
}

export function patientEventIn(
  segments: readonly string[],
  circumstances: Circumstances = {},
): PatientDelivery {
  const delivery = read(segments, circumstances);
  if (delivery.kind !== 'patient-event') throw new Error(`read as ${delivery.kind}`);
  return delivery;
}

/** An OBR of a monitor with this OBR-7. */
export function obr(time = '20260301101400+0100'): string {
  return `OBR|1|||69965^MDC_DEV_MON_PHYSIO_MULTI_PARAM_MDS^MDC|||${time}`;
}

/** Fields of an OBX by their number. */
export type RowFields = Readonly<Record<number, string>>;

export function obx(fields: RowFields): string {
  const last = Math.max(11, ...Object.keys(fields).map(Number));
  return `OBX|${Array.from({ length: last }, (_, at) => fields[at + 1] ?? '').join('|')}`;
}

const CODES = {
  spo2: ['150456^MDC_PULS_OXIM_SAT_O2^MDC', '262688^MDC_DIM_PERCENT^MDC'],
  ecg: ['147842^MDC_ECG_HEART_RATE^MDC', '264864^MDC_DIM_BEAT_PER_MIN^MDC'],
  pulse: ['149514^MDC_PULS_RATE^MDC', '264864^MDC_DIM_BEAT_PER_MIN^MDC'],
  cuffPulse: ['149546^MDC_PULS_RATE_NON_INV^MDC', '264864^MDC_DIM_BEAT_PER_MIN^MDC'],
  breathing: ['151562^MDC_RESP_RATE^MDC', '264928^MDC_DIM_RESP_PER_MIN^MDC'],
  temperature: ['150364^MDC_TEMP_BODY^MDC', '268192^MDC_DIM_DEGC^MDC'],
  sys: ['150021^MDC_PRESS_BLD_NONINV_SYS^MDC', '266016^MDC_DIM_MMHG^MDC'],
  dia: ['150022^MDC_PRESS_BLD_NONINV_DIA^MDC', '266016^MDC_DIM_MMHG^MDC'],
  mean: ['150023^MDC_PRESS_BLD_NONINV_MEAN^MDC', '266016^MDC_DIM_MMHG^MDC'],
} as const;

/** A sound row of a sign at a path, with some fields of its own. */
export function row(
  sign: keyof typeof CODES,
  path: string,
  value: string,
  fields: RowFields = {},
): string {
  const [code, unit] = CODES[sign];
  return obx({ 2: 'NM', 3: code, 4: path, 5: value, 6: unit, 11: 'R', ...fields });
}

/** A row of the device itself, without a value. */
export function deviceRow(
  name: 'MDS' | 'VMD' | 'CHAN',
  path: string,
  fields: RowFields = {},
): string {
  const codes = {
    MDS: '69965^MDC_DEV_MON_PHYSIO_MULTI_PARAM_MDS^MDC',
    VMD: '70686^MDC_DEV_PRESS_BLD_NONINV_VMD^MDC',
    CHAN: '70687^MDC_DEV_PRESS_BLD_NONINV_CHAN^MDC',
  };
  return obx({ 3: codes[name], 4: path, 11: 'X', ...fields });
}

/** The readings of one order of one patient. */
export function readingsIn(
  rows: readonly string[],
  circumstances: Circumstances = {},
): readonly IncomingReading[] {
  return observationsIn([PATIENT, obr(), ...rows], circumstances).sets.flatMap(
    ({ readings }) => readings,
  );
}

/** The only reading that these rows make. */
export function readingIn(
  rows: readonly string[],
  circumstances: Circumstances = {},
): IncomingReading {
  const [reading, ...more] = readingsIn(rows, circumstances);
  if (reading === undefined || more.length > 0)
    throw new Error(`${more.length + 1} readings or none`);
  return reading;
}

/** The reasons of the rows that brought none. */
export function unreadIn(rows: readonly string[], circumstances: Circumstances = {}) {
  return observationsIn([PATIENT, obr(), ...rows], circumstances).sets.flatMap(
    ({ unread = [] }) => unread,
  );
}
