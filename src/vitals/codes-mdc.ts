/**
 * Vital-sign terms of IEEE 11073-10101 (MDC) and what each stands for here. Numbers and reference ids:
 * the term table of the NIST device-communication tools, January 2025; 188496 is deprecated there and
 * kept in its table of units only. Which LOINC concept a term is: HL7 Personal Health Device and
 * Point-of-Care Device guides, gematik and MII intensive-care examples, FHIR vital-sign value sets; where
 * those are silent the reference id decides.
 *
 * A site follows from a code only where the catalogue has it. Terms of one meaning stand together.
 */
import type { CodedSign, CodeMeaning, ContextKind } from './coded-sign.js';
import type { Method, Site } from './words.js';

export interface MdcTerm {
  readonly code: number;
  /** Reference ids of this number. */
  readonly names: readonly string[];
  readonly meaning: CodeMeaning;
}

function term(code: number, names: string | readonly string[], meaning: CodeMeaning): MdcTerm {
  return { code, names: typeof names === 'string' ? [names] : names, meaning };
}

function sign(code: number, names: string | readonly string[], coded: CodedSign): MdcTerm {
  return term(code, names, { kind: 'sign', sign: coded });
}

/** Systolic, diastolic and mean, whose numbers follow one another. */
function pressures(first: number, stem: string, method?: Method): readonly MdcTerm[] {
  const parts = [
    ['SYS', 'systolic'],
    ['DIA', 'diastolic'],
    ['MEAN', 'mean'],
  ] as const;
  return parts.map(([suffix, part], place) =>
    sign(first + place, `${stem}_${suffix}`, {
      vital: 'blood-pressure',
      part,
      ...(method !== undefined && { method }),
    }),
  );
}

function pulse(code: number, names: string | readonly string[], method?: Method, note?: string) {
  return sign(code, names, {
    vital: 'pulse-rate',
    ...(method !== undefined && { method }),
    ...(note !== undefined && { note }),
  });
}

function saturation(code: number, name: string, more: Partial<CodedSign> = {}): MdcTerm {
  return sign(code, name, { vital: 'oxygen-saturation', method: 'pulse-oximetry', ...more });
}

function breathing(code: number, name: string, method?: Method, note?: string): MdcTerm {
  return sign(code, name, {
    vital: 'respiratory-rate',
    ...(method !== undefined && { method }),
    ...(note !== undefined && { note }),
  });
}

function temperature(code: number, name: string, site?: Site, note?: string): MdcTerm {
  return sign(code, name, {
    vital: 'body-temperature',
    ...(site !== undefined && { site }),
    ...(note !== undefined && { note }),
  });
}

function other(code: number, names: string | readonly string[], about: string): MdcTerm {
  return term(code, names, { kind: 'not-a-vital-sign', about });
}

function context(code: number, name: string, kind: ContextKind): MdcTerm {
  return term(code, name, { kind: 'context', context: kind });
}

const PRESSURES: readonly MdcTerm[] = [
  term(150020, 'MDC_PRESS_BLD_NONINV', { kind: 'panel', method: 'oscillometry' }),
  ...pressures(150021, 'MDC_PRESS_BLD_NONINV', 'oscillometry'),
  // Deprecated, provisionally reinstated; devices still send them.
  ...pressures(150301, 'MDC_PRESS_CUFF', 'oscillometry'),
  // How it was measured is not said: never taken for a cuff.
  term(150016, 'MDC_PRESS_BLD', { kind: 'panel' }),
  ...pressures(150017, 'MDC_PRESS_BLD'),
  ...pressures(150033, 'MDC_PRESS_BLD_ART', 'invasive'),
  ...pressures(150037, 'MDC_PRESS_BLD_ART_ABP', 'invasive'),
  other(150045, 'MDC_PRESS_BLD_ART_PULM_SYS', 'the systolic pressure of the pulmonary artery'),
  other(150046, 'MDC_PRESS_BLD_ART_PULM_DIA', 'the diastolic pressure of the pulmonary artery'),
  other(150047, 'MDC_PRESS_BLD_ART_PULM_MEAN', 'the mean pressure of the pulmonary artery'),
  other(150084, 'MDC_PRESS_BLD_VEN_CENT', 'the central venous pressure'),
  other(150087, 'MDC_PRESS_BLD_VEN_CENT_MEAN', 'the mean central venous pressure'),
];

const PULSES: readonly MdcTerm[] = [
  pulse(149514, 'MDC_PULS_RATE'),
  pulse(149546, 'MDC_PULS_RATE_NON_INV', 'oscillometry'),
  pulse(149530, 'MDC_PULS_OXIM_PULS_RATE', 'pulse-oximetry'),
  pulse(149538, 'MDC_PLETH_PULS_RATE', 'pulse-oximetry'),
  pulse(149522, 'MDC_BLD_PULS_RATE_INV', 'invasive'),
  pulse(149562, 'MDC_PALPATION_HEART_RATE', 'palpation'),
  pulse(147842, ['MDC_ECG_HEART_RATE', 'MDC_ECG_CARD_BEAT_RATE'], 'electrocardiography'),
  // Impedance is a method of breathing rates only.
  pulse(149554, 'MDC_TTHOR_HEART_RATE', undefined, 'Heart rate by thoracic impedance'),
  other(147850, 'MDC_ECG_CARD_BEAT_RATE_BTB', 'a heart rate from one beat to the next'),
];

const SATURATIONS: readonly MdcTerm[] = [
  saturation(150456, 'MDC_PULS_OXIM_SAT_O2'),
  saturation(150460, 'MDC_PULS_OXIM_SAT_O2_CTS'),
  saturation(150464, 'MDC_PULS_OXIM_SAT_O2_NONCTS'),
  saturation(150472, 'MDC_PULS_OXIM_SAT_O2_ART_LEFT', { side: 'left' }),
  saturation(150476, 'MDC_PULS_OXIM_SAT_O2_ART_RIGHT', { side: 'right' }),
  saturation(160296, 'MDC_PULS_OXIM_SAT_O2_ART_PREDUCTAL', { note: 'Preductal' }),
  saturation(160300, 'MDC_PULS_OXIM_SAT_O2_ART_POSTDUCTAL', { note: 'Postductal' }),
  other(150468, 'MDC_PULS_OXIM_SAT_O2_DIFF', 'a difference of two saturations'),
  other(150324, 'MDC_SAT_O2_ART', 'a saturation of arterial blood that is no pulse oximetry'),
  other(150316, 'MDC_SAT_O2', 'a saturation of unknown site and method'),
  context(150320, 'MDC_SAT_O2_QUAL', 'signal-quality'),
  context(150448, 'MDC_PULS_OXIM_PERF_REL', 'perfusion-index'),
  context(150488, 'MDC_BLD_PERF_INDEX', 'perfusion-index'),
  context(150604, 'MDC_PULS_OXIM_DEV_STATUS', 'oximeter-status'),
];

const BREATHING: readonly MdcTerm[] = [
  breathing(151562, 'MDC_RESP_RATE'),
  // The same reference id under its older number.
  breathing(151554, 'MDC_RESP_RATE'),
  breathing(151570, 'MDC_AWAY_RESP_RATE', undefined, 'Measured at the airway'),
  breathing(151578, 'MDC_TTHOR_RESP_RATE', 'impedance'),
  breathing(151594, 'MDC_CO2_RESP_RATE', 'capnography'),
  breathing(151650, 'MDC_ACOUSTIC_RESP_RATE', undefined, 'Measured by an acoustic sensor'),
  breathing(151658, 'MDC_PULS_OXIM_PLETH_RESP_RATE', 'pulse-oximetry'),
  other(151586, 'MDC_VENT_RESP_RATE', "a ventilator's rate"),
];

const TEMPERATURES: readonly MdcTerm[] = [
  temperature(150364, 'MDC_TEMP_BODY'),
  temperature(150344, 'MDC_TEMP'),
  temperature(150368, 'MDC_TEMP_CORE', 'core'),
  temperature(188424, 'MDC_TEMP_ORAL', 'oral'),
  temperature(188420, 'MDC_TEMP_RECT', 'rectal'),
  temperature(188452, 'MDC_TEMP_AXILLA', 'axillary'),
  temperature(188496, 'MDC_TEMP_AXIL', 'axillary'),
  temperature(150392, 'MDC_TEMP_TYMP', 'tympanic'),
  temperature(188428, 'MDC_TEMP_EAR', 'ear'),
  temperature(150372, 'MDC_TEMP_ESOPH', 'core', 'Measured in the oesophagus'),
  temperature(150380, 'MDC_TEMP_NASOPH', 'core', 'Measured in the nasopharynx'),
  temperature(188436, 'MDC_TEMP_BLD', 'core', 'Measured in the blood'),
  temperature(150348, 'MDC_TEMP_FOLEY', 'core', 'Measured in the urinary bladder'),
  sign(188504, 'MDC_TEMP_NASAL', {
    vital: 'body-temperature',
    note: 'Measured in the nose',
    doubts: ['site-unclear'],
  }),
  other(150388, 'MDC_TEMP_SKIN', 'a temperature of the skin'),
  other(188432, 'MDC_TEMP_FINGER', 'a temperature of the skin of a finger'),
  other(188448, 'MDC_TEMP_TOE', 'a temperature of the skin of a toe'),
  other(188444, 'MDC_TEMP_SURF', 'a temperature of the surface of the body'),
  other(150356, 'MDC_TEMP_AWAY', 'the temperature of the gas in the airway'),
  other(188508, 'MDC_TEMP_ROOM', 'the temperature of the room'),
  other(188440, 'MDC_TEMP_DIFF', 'a difference of two temperatures'),
];

const OXYGEN_AND_BODY: readonly MdcTerm[] = [
  sign(152196, 'MDC_CONC_AWAY_O2_INSP', { vital: 'inspired-oxygen' }),
  sign(153144, 'MDC_CONC_GASDLV_O2_INSP', { vital: 'inspired-oxygen' }),
  sign(16930360, 'MDC_CONC_GASDLV_O2_INSP_SETTING', {
    vital: 'inspired-oxygen',
    doubts: ['setting-not-measurement'],
  }),
  other(151908, 'MDC_CONC_AWAY_O2', 'oxygen in the airway, not only in what is breathed in'),
  sign(188736, 'MDC_MASS_BODY_ACTUAL', { vital: 'body-weight' }),
  sign(188740, 'MDC_LEN_BODY_ACTUAL', { vital: 'body-height' }),
  // Typed at the device on admission, or the weight a pump doses by: no measurement.
  sign(68063, 'MDC_ATTR_PT_WEIGHT', { vital: 'body-weight', doubts: ['typed-in-value'] }),
  sign(68060, 'MDC_ATTR_PT_HEIGHT', { vital: 'body-height', doubts: ['typed-in-value'] }),
  other(188752, 'MDC_RATIO_MASS_BODY_LEN_SQ', 'the body mass index'),
];

const ABOUT_THE_DEVICE: readonly MdcTerm[] = [
  context(8410608, 'MDC_BLOOD_PRESSURE_MEASUREMENT_STATUS', 'cuff-status'),
  context(67911, 'MDC_ATTR_MSMT_STAT', 'measurement-status'),
  context(68007, 'MDC_ATTR_VMS_MDS_STAT', 'device-status'),
  context(67975, 'MDC_ATTR_TIME_ABS', 'device-time'),
  context(68193, 'MDC_ATTR_SUPPLEMENTAL_TYPES', 'modality'),
  context(150580, 'MDC_MODALITY_FAST', 'modality'),
  context(150584, 'MDC_MODALITY_SLOW', 'modality'),
  context(150588, 'MDC_MODALITY_SPOT', 'modality'),
  context(531979, 'MDC_MODALITY_AVERAGING_TIME', 'modality'),
  context(68487, 'MDC_ATTR_EVT_COND', 'association'),
];

export const MDC_TERMS: readonly MdcTerm[] = [
  ...PRESSURES,
  ...PULSES,
  ...SATURATIONS,
  ...BREATHING,
  ...TEMPERATURES,
  ...OXYGEN_AND_BODY,
  ...ABOUT_THE_DEVICE,
];
