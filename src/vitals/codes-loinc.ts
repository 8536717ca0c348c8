/**
 * LOINC codes that senders give vital signs, and what each stands for here. The required and specific
 * ones are those of the catalogue. The rest: FHIR vital-sign value sets (R4 and 6.0.0-ballot5, LOINC
 * 2.82), gematik and MII intensive-care examples; 76214-6 as in the documentation of AmsterdamUMCdb.
 * That 8334-5 means the bladder is from memory, no source: it is taken without its site.
 */
import type { CodedSign, CodeMeaning } from './coded-sign.js';
import type { Method, Part, Site } from './words.js';

function sign(coded: CodedSign): CodeMeaning {
  return { kind: 'sign', sign: coded };
}

function pressure(part: Exclude<Part, 'value'>, method?: Method, note?: string): CodeMeaning {
  return sign({
    vital: 'blood-pressure',
    part,
    ...(method !== undefined && { method }),
    ...(note !== undefined && { note }),
  });
}

/** "by Noninvasive" leaves open whether a person or a device measured, and how. */
const NON_INVASIVE = 'Measured without an arterial line';

function pulse(method: Method, site?: Site): CodeMeaning {
  return sign({ vital: 'pulse-rate', method, ...(site !== undefined && { site }) });
}

function temperature(site?: Site, note?: string): CodeMeaning {
  return sign({
    vital: 'body-temperature',
    ...(site !== undefined && { site }),
    ...(note !== undefined && { note }),
  });
}

function other(about: string): CodeMeaning {
  return { kind: 'not-a-vital-sign', about };
}

export const LOINC_TERMS: ReadonlyMap<string, CodeMeaning> = new Map<string, CodeMeaning>([
  ['9279-1', sign({ vital: 'respiratory-rate' })],
  ['33438-3', other("a ventilator's rate")],

  ['8867-4', sign({ vital: 'pulse-rate' })],
  ['8893-0', pulse('palpation')],
  ['8891-4', pulse('palpation', 'apex')],
  ['8890-6', pulse('auscultation', 'apex')],
  ['8889-8', pulse('pulse-oximetry')],
  ['76477-9', sign({ vital: 'pulse-rate', note: NON_INVASIVE })],
  ['60978-4', pulse('invasive')],

  ['59408-5', sign({ vital: 'oxygen-saturation', method: 'pulse-oximetry' })],
  ['2708-6', sign({ vital: 'oxygen-saturation' })],
  ['59407-7', sign({ vital: 'oxygen-saturation', method: 'pulse-oximetry', note: 'Preductal' })],
  ['59418-4', sign({ vital: 'oxygen-saturation', method: 'pulse-oximetry', note: 'Postductal' })],

  ['85354-9', { kind: 'panel' }],
  ['35094-2', { kind: 'panel' }],
  ['8480-6', pressure('systolic')],
  ['8462-4', pressure('diastolic')],
  ['8478-0', pressure('mean')],
  ['76534-7', pressure('systolic', undefined, NON_INVASIVE)],
  ['76535-4', pressure('diastolic', undefined, NON_INVASIVE)],
  ['76536-2', pressure('mean', undefined, NON_INVASIVE)],
  ['8479-8', pressure('systolic', 'palpation')],
  ['76215-3', pressure('systolic', 'invasive')],
  ['76213-8', pressure('diastolic', 'invasive')],
  ['76214-6', pressure('mean', 'invasive')],
  ['8440-0', other('the systolic pressure of the pulmonary artery')],
  ['8385-7', other('the diastolic pressure of the pulmonary artery')],
  ['8414-5', other('the mean pressure of the pulmonary artery')],

  ['8310-5', temperature()],
  ['8331-1', temperature('oral')],
  ['8332-9', temperature('rectal')],
  ['8328-7', temperature('axillary')],
  ['8333-7', temperature('tympanic')],
  ['75539-7', temperature('temporal')],
  ['8329-5', temperature('core')],
  ['60836-4', temperature('core', 'Measured in the oesophagus')],
  ['60838-0', temperature('core', 'Measured in the nasopharynx')],
  ['60834-9', temperature('core', 'Measured in the blood')],
  ['8334-5', temperature()],
  [
    '76010-8',
    sign({
      vital: 'body-temperature',
      note: 'Measured in the nose',
      doubts: ['site-unclear'],
    }),
  ],
  ['60955-2', other('the temperature of the gas in the airway')],

  ['8302-2', sign({ vital: 'body-height' })],
  ['8306-3', sign({ vital: 'body-height' })],
  ['29463-7', sign({ vital: 'body-weight' })],
  ['3141-9', sign({ vital: 'body-weight' })],
  ['39156-5', other('the body mass index')],
  ['3151-8', sign({ vital: 'oxygen-flow' })],
  ['3150-0', sign({ vital: 'inspired-oxygen' })],
  ['67775-7', sign({ vital: 'consciousness' })],
  ['80288-4', sign({ vital: 'consciousness' })],
  ['85353-1', other('the head of a panel of vital signs')],
]);
