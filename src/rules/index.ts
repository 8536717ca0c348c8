/** The rules in force, in the order in which they are heard: who and when, then each reading, then across. */
import { bloodPressureMethodsDiffer } from './cross-checks/blood-pressure-methods-differ.js';
import { bloodPressureMethodsDisagree } from './cross-checks/blood-pressure-methods-disagree.js';
import { pulseMethodsDiffer } from './cross-checks/pulse-methods-differ.js';
import { pulseMethodsDisagree } from './cross-checks/pulse-methods-disagree.js';
import { methodNotTaken } from './form/method-not-taken.js';
import { siteNotTaken } from './form/site-not-taken.js';
import { unitUnknown } from './form/unit-unknown.js';
import { patientMismatch } from './identity/patient-mismatch.js';
import { patientSingleIdentifier } from './identity/patient-single-identifier.js';
import { patientUnknown } from './identity/patient-unknown.js';
import { secondIdentifierMissing } from './identity/second-identifier-missing.js';
import { valueConfirmed } from './lifting/value-confirmed.js';
import { valueCorroborated } from './lifting/value-corroborated.js';
import { diastolicHeardToZero } from './limits/diastolic-heard-to-zero.js';
import { noSignal } from './limits/no-signal.js';
import { valueCritical } from './limits/value-critical.js';
import { valueDoubtful } from './limits/value-doubtful.js';
import { valueImpossible } from './limits/value-impossible.js';
import { meanFractionUnusual } from './relations/mean-fraction-unusual.js';
import { meanOutsidePressures } from './relations/mean-outside-pressures.js';
import { pulsePressureNarrow } from './relations/pulse-pressure-narrow.js';
import { pulsePressureWide } from './relations/pulse-pressure-wide.js';
import { systolicNotAboveDiastolic } from './relations/systolic-not-above-diastolic.js';
import { valueNotWhole } from './relations/value-not-whole.js';
import type { Rule } from './rule.js';
import { timeInFuture } from './time/time-in-future.js';
import { celsiusSuspected } from './units/celsius-suspected.js';
import { fahrenheitSuspected } from './units/fahrenheit-suspected.js';
import { fractionSuspected } from './units/fraction-suspected.js';
import { kilopascalSuspected } from './units/kilopascal-suspected.js';

export const RULES: readonly Rule[] = [
  patientUnknown,
  patientMismatch,
  secondIdentifierMissing,
  patientSingleIdentifier,
  timeInFuture,

  unitUnknown,
  methodNotTaken,
  siteNotTaken,
  fahrenheitSuspected,
  celsiusSuspected,
  fractionSuspected,
  kilopascalSuspected,
  noSignal,
  valueImpossible,
  valueNotWhole,
  systolicNotAboveDiastolic,
  meanOutsidePressures,
  meanFractionUnusual,
  pulsePressureNarrow,
  pulsePressureWide,
  diastolicHeardToZero,
  valueDoubtful,

  valueCritical,
  bloodPressureMethodsDiffer,
  bloodPressureMethodsDisagree,
  pulseMethodsDiffer,
  pulseMethodsDisagree,

  valueConfirmed,
  valueCorroborated,
];
