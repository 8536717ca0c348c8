/** How far a reading is to be trusted, as its sender says: status, measurement status, security labels. */
import type { CodeableConcept, Coding, Observation } from 'fhir/r4.js';
import type { ReportDoubt, SignalDoubt } from '../../vitals/device-report.js';
import type { Faults } from './fhir-fault.js';

export interface Trust {
  readonly doubts: readonly ReportDoubt[];
  readonly signal: readonly SignalDoubt[];
  /** Undefined: nothing is said, the registration of the source decides. */
  readonly reviewed: boolean | undefined;
}

interface Marks {
  readonly doubts: Set<ReportDoubt>;
  readonly signal: Set<SignalDoubt>;
  validated: boolean;
}

type StatusMeaning = 'settled' | 'unreviewed' | 'unclear';

/**
 * `final` is no review: of a device it says only that the measurement has ended (HL7 Personal Health Device
 * guide, PhdBaseObservation.status).
 */
const STATUS_MEANINGS: Readonly<Record<Observation['status'], StatusMeaning>> = {
  final: 'settled',
  amended: 'settled',
  corrected: 'settled',
  preliminary: 'unreviewed',
  registered: 'unclear',
  cancelled: 'unclear',
  unknown: 'unclear',
  'entered-in-error': 'unclear',
};

/** Two addresses of one code system are in use: of the published code system, and of the PHD profiles. */
const MEASUREMENT_STATUS: readonly string[] = [
  'http://terminology.hl7.org/CodeSystem/measurement-status',
  'http://hl7.org/fhir/uv/pocd/CodeSystem/measurement-status',
];
const INTERPRETATION = 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation';

/** HL7 Point-of-Care Device guide, code system measurement-status, and the spellings of its mapping pages. */
const SIGNAL_BY_CODE: Readonly<Record<string, SignalDoubt>> = {
  questionable: 'questionable',
  'calibration-ongoing': 'calibrating',
  'early-indication': 'early',
};
const VALIDATED = 'validated-data';
/** States of the device's own alarm: neither doubts the value. */
const ALARM_STATES: readonly string[] = [
  'in-alarm',
  'alarm-inhibited',
  'al-inhibited',
  'msmt-ongoing',
];

/** v3-ObservationInterpretation, group of normality: found anew by the limits here. */
const NORMALITY: readonly string[] = ['N', 'A', 'AA', 'H', 'HU', 'HH', 'L', 'LU', 'LL'];
/** The value is beyond the scale of the instrument: a bound, and no measurement. */
const OFF_SCALE: readonly string[] = ['<', '>'];

/** HL7 v3 ActReason and ObservationValue, as the maps of measurement status in both device guides use them. */
const SECURITY: Readonly<Record<string, 'test' | 'questionable' | 'validated' | 'none'>> = {
  HTEST: 'test',
  UNRELIABLE: 'questionable',
  UNCERTREL: 'questionable',
  RELIABLE: 'none',
  HRELIABLE: 'validated',
  // Confidentiality "normal".
  N: 'none',
};

/** @param hasValue there is a number or a code, and not a reason why there is none */
export function readTrust(observation: Observation, hasValue: boolean, faults: Faults): Trust {
  const marks: Marks = { doubts: new Set(), signal: new Set(), validated: false };
  (observation.meta?.security ?? []).forEach((label, i) => {
    markSecurity(label, `meta.security[${i}]`, marks, faults);
  });
  markInterpretations(observation, '', marks, faults);
  (observation.component ?? []).forEach((component, i) => {
    markInterpretations(component, `component[${i}].`, marks, faults);
  });
  const meaning = STATUS_MEANINGS[observation.status];
  if (meaning === 'unclear' && hasValue) marks.doubts.add('status-unclear');
  return {
    doubts: [...marks.doubts],
    signal: [...marks.signal],
    reviewed: meaning === 'unreviewed' ? false : marks.validated ? true : undefined,
  };
}

function markSecurity(label: Coding, path: string, marks: Marks, faults: Faults): void {
  const code = label.code ?? '';
  const meaning = Object.hasOwn(SECURITY, code) ? SECURITY[code] : undefined;
  if (meaning === 'test') marks.doubts.add('test-data');
  else if (meaning === 'questionable') marks.signal.add('questionable');
  else if (meaning === 'validated') marks.validated = true;
  else if (meaning === undefined) {
    faults.refuse(path, 'not-supported', `${path} is a label by which nothing is guarded here.`);
  }
}

function markInterpretations(
  { interpretation = [] }: { readonly interpretation?: readonly CodeableConcept[] | undefined },
  before: string,
  marks: Marks,
  faults: Faults,
): void {
  interpretation.forEach(({ coding = [] }, i) => {
    const path = `${before}interpretation[${i}]`;
    const known = coding.filter((one) => markInterpretation(one, marks));
    if (known.length > 0) return;
    faults.refuse(path, 'code-invalid', `${path} has no code that is read here.`);
  });
}

/** False: it is not read here. */
function markInterpretation({ system = '', code = '' }: Coding, marks: Marks): boolean {
  if (MEASUREMENT_STATUS.includes(system)) {
    const signal = Object.hasOwn(SIGNAL_BY_CODE, code) ? SIGNAL_BY_CODE[code] : undefined;
    if (signal !== undefined) marks.signal.add(signal);
    else if (code === VALIDATED) marks.validated = true;
    else return ALARM_STATES.includes(code);
    return true;
  }
  if (system !== INTERPRETATION) return false;
  if (OFF_SCALE.includes(code)) marks.doubts.add('value-unreadable');
  return OFF_SCALE.includes(code) || NORMALITY.includes(code);
}
