/** The rules in force, in the order in which they are heard: who and when, then each reading, then across. */
import { associationFresh } from './association/association-fresh.js';
import { associationOfAnother } from './association/association-of-another.js';
import { beforeAssociation } from './association/before-association.js';
import { outsideAssociation } from './association/outside-association.js';
import { bloodPressureChanged } from './change/blood-pressure-changed.js';
import { bodyTemperatureChanged } from './change/body-temperature-changed.js';
import { bodyWeightChanged } from './change/body-weight-changed.js';
import { feverInOldAge } from './change/fever-in-old-age.js';
import { oxygenSaturationFallen } from './change/oxygen-saturation-fallen.js';
import { poundSuspected } from './change/pound-suspected.js';
import { pulseRateChanged } from './change/pulse-rate-changed.js';
import { respiratoryRateChanged } from './change/respiratory-rate-changed.js';
import { armNotAtHeartLevel } from './context/arm-not-at-heart-level.js';
import { breathCountShort } from './context/breath-count-short.js';
import { cuffTooLarge } from './context/cuff-too-large.js';
import { cuffTooSmall } from './context/cuff-too-small.js';
import { drinkBeforeOral } from './context/drink-before-oral.js';
import { inflationTooLow } from './context/inflation-too-low.js';
import { irregularByCuffOnly } from './context/irregular-by-cuff-only.js';
import { irregularCountShort } from './context/irregular-count-short.js';
import { positionChanged } from './context/position-changed.js';
import { bloodPressureArmsDiffer } from './cross-checks/blood-pressure-arms-differ.js';
import { bloodPressureMethodsDiffer } from './cross-checks/blood-pressure-methods-differ.js';
import { bloodPressureMethodsDisagree } from './cross-checks/blood-pressure-methods-disagree.js';
import { bloodPressureRepeatsDiffer } from './cross-checks/blood-pressure-repeats-differ.js';
import { heartRatePulseDiffer } from './cross-checks/heart-rate-pulse-differ.js';
import { inspiredOxygenWithoutFlow } from './cross-checks/inspired-oxygen-without-flow.js';
import { pulseDeficitPossible } from './cross-checks/pulse-deficit-possible.js';
import { pulseMethodsDiffer } from './cross-checks/pulse-methods-differ.js';
import { pulseMethodsDisagree } from './cross-checks/pulse-methods-disagree.js';
import { readingConflicts } from './cross-checks/reading-conflicts.js';
import { respiratoryRateAbovePulse } from './cross-checks/respiratory-rate-above-pulse.js';
import { respiratoryRateMethodsDiffer } from './cross-checks/respiratory-rate-methods-differ.js';
import { saturationLowOnOxygen } from './cross-checks/saturation-low-on-oxygen.js';
import { temperatureSitesDiffer } from './cross-checks/temperature-sites-differ.js';
import { temperatureSitesDisagree } from './cross-checks/temperature-sites-disagree.js';
import { deviceDisabled } from './device/device-disabled.js';
import { signNotAllowed } from './device/sign-not-allowed.js';
import { methodNotTaken } from './form/method-not-taken.js';
import { siteNotTaken } from './form/site-not-taken.js';
import { unitUnknown } from './form/unit-unknown.js';
import { authorityMissing } from './identity/authority-missing.js';
import { identifiersConflict } from './identity/identifiers-conflict.js';
import { identityDeclaredUnknown } from './identity/identity-declared-unknown.js';
import { patientMismatch } from './identity/patient-mismatch.js';
import { patientNotNamed } from './identity/patient-not-named.js';
import { patientSingleIdentifier } from './identity/patient-single-identifier.js';
import { patientUnknown } from './identity/patient-unknown.js';
import { secondIdentifierMissing } from './identity/second-identifier-missing.js';
import { resolvedByRepeat } from './lifting/resolved-by-repeat.js';
import { valueConfirmed } from './lifting/value-confirmed.js';
import { valueCorroborated } from './lifting/value-corroborated.js';
import { ageUnknown } from './limits/age-unknown.js';
import { diastolicHeardToZero } from './limits/diastolic-heard-to-zero.js';
import { noSignal } from './limits/no-signal.js';
import { valueCritical } from './limits/value-critical.js';
import { valueDoubtful } from './limits/value-doubtful.js';
import { valueImpossible } from './limits/value-impossible.js';
import { countAndWindowDisagree } from './quality/count-and-window-disagree.js';
import { oddLastDigit } from './quality/odd-last-digit.js';
import { setUnchanged } from './quality/set-unchanged.js';
import { meanFractionUnusual } from './relations/mean-fraction-unusual.js';
import { meanOutsidePressures } from './relations/mean-outside-pressures.js';
import { pulsePressureNarrow } from './relations/pulse-pressure-narrow.js';
import { pulsePressureWide } from './relations/pulse-pressure-wide.js';
import { systolicNotAboveDiastolic } from './relations/systolic-not-above-diastolic.js';
import { valueNotWhole } from './relations/value-not-whole.js';
import { characterSetBroken } from './report/character-set-broken.js';
import { clockStepped } from './report/clock-stepped.js';
import { clockUnset } from './report/clock-unset.js';
import { codeByNameOnly } from './report/code-by-name-only.js';
import { codeNameMismatch } from './report/code-name-mismatch.js';
import { codesDisagree } from './report/codes-disagree.js';
import { controlIdReused } from './report/control-id-reused.js';
import { originalNotFound } from './report/original-not-found.js';
import { settingNotMeasurement } from './report/setting-not-measurement.js';
import { signalDoubtful } from './report/signal-doubtful.js';
import { siteUnclear } from './report/site-unclear.js';
import { statusUnclear } from './report/status-unclear.js';
import { testData } from './report/test-data.js';
import { timeImprecise } from './report/time-imprecise.js';
import { timeMissing } from './report/time-missing.js';
import { timeToMinuteOnly } from './report/time-to-minute-only.js';
import { timeZoneMissing } from './report/time-zone-missing.js';
import { typedInValue } from './report/typed-in-value.js';
import { valueNotPlain } from './report/value-not-plain.js';
import { valueUnreadable } from './report/value-unreadable.js';
import { valuesConflict } from './report/values-conflict.js';
import type { Rule } from './rule.js';
import { clockCorrected } from './time/clock-corrected.js';
import { deviceClockDrifted } from './time/device-clock-drifted.js';
import { deviceClockHoursOff } from './time/device-clock-hours-off.js';
import { readingDaysOld } from './time/reading-days-old.js';
import { sourceClockFarOff } from './time/source-clock-far-off.js';
import { sourceClockOff } from './time/source-clock-off.js';
import { timeInFuture } from './time/time-in-future.js';
import { celsiusSuspected } from './units/celsius-suspected.js';
import { fahrenheitSuspected } from './units/fahrenheit-suspected.js';
import { fractionSuspected } from './units/fraction-suspected.js';
import { kilopascalSuspected } from './units/kilopascal-suspected.js';

export const RULES: readonly Rule[] = [
  patientNotNamed,
  patientUnknown,
  identityDeclaredUnknown,
  authorityMissing,
  identifiersConflict,
  patientMismatch,
  secondIdentifierMissing,
  patientSingleIdentifier,
  beforeAssociation,
  associationOfAnother,
  outsideAssociation,
  associationFresh,
  timeInFuture,
  readingDaysOld,
  sourceClockFarOff,
  sourceClockOff,
  deviceClockHoursOff,

  testData,
  settingNotMeasurement,
  valueUnreadable,
  codeNameMismatch,
  codesDisagree,
  statusUnclear,
  valueNotPlain,
  valuesConflict,
  siteUnclear,
  typedInValue,
  timeMissing,
  timeImprecise,
  timeZoneMissing,
  clockUnset,
  clockStepped,
  characterSetBroken,
  codeByNameOnly,
  timeToMinuteOnly,
  controlIdReused,
  originalNotFound,
  signNotAllowed,
  deviceDisabled,

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
  cuffTooSmall,
  cuffTooLarge,
  armNotAtHeartLevel,
  inflationTooLow,
  drinkBeforeOral,
  breathCountShort,
  irregularCountShort,
  countAndWindowDisagree,
  oddLastDigit,
  signalDoubtful,
  clockCorrected,

  readingConflicts,
  valueCritical,
  ageUnknown,
  bloodPressureMethodsDiffer,
  bloodPressureMethodsDisagree,
  pulseMethodsDiffer,
  pulseMethodsDisagree,
  bloodPressureArmsDiffer,
  bloodPressureRepeatsDiffer,
  temperatureSitesDiffer,
  temperatureSitesDisagree,
  respiratoryRateMethodsDiffer,
  respiratoryRateAbovePulse,
  heartRatePulseDiffer,
  pulseDeficitPossible,
  saturationLowOnOxygen,
  inspiredOxygenWithoutFlow,

  irregularByCuffOnly,
  positionChanged,
  bloodPressureChanged,
  pulseRateChanged,
  respiratoryRateChanged,
  oxygenSaturationFallen,
  bodyTemperatureChanged,
  bodyWeightChanged,
  poundSuspected,
  feverInOldAge,
  setUnchanged,
  deviceClockDrifted,

  valueConfirmed,
  valueCorroborated,

  resolvedByRepeat,
];
