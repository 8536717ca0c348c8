/**
 * Versions as they were published under edition 1, each beside a file of its name with the bytes of
 * its Observation. Both are never changed: a change of the rendering that alters these bytes needs a
 * new edition, and a renderer that still writes the old one.
 */
import { asPanel, asShown } from '../../../../../src/store/shown-observations.js';
import type { ObservationVersion } from '../../../../../src/store/shown-observations.js';
import type { Finding, PanelVersion, ReadingVersion } from '../../../../../src/vitals/shapes.js';
import type { DerivedKind } from '../../../../../src/vitals/words.js';
import { PRESSURE, samplePanel, sampleVersion } from '../../sample-version.js';

const disagreement: Finding = {
  rule: 'blood-pressure-methods-disagree',
  verdict: 'held',
  readings: [4, 5],
  message: 'Stethoscope 186/94 and automatic cuff 141/88 differ by 45 mmHg in the systolic.',
  advice: 'Measure again by stethoscope after a minute of rest.',
  source: 'test data',
  hold: 'value',
};

const meanAboveSystolic: Finding = {
  rule: 'mean-pressure-outside-its-range',
  verdict: 'noted',
  readings: [5],
  message: 'The mean of 150 is above the systolic of 137 and was left out.',
  advice: 'Read the mean again.',
  source: 'test data',
  partInError: 'mean',
};

const bare = {
  method: null,
  site: null,
  side: null,
  position: null,
  device: null,
  interpretation: {},
} as const;

const CHANGES: Readonly<Record<string, Partial<ReadingVersion>>> = {
  'respiratory-rate-counted': {
    ...bare,
    index: 0,
    vital: 'respiratory-rate',
    method: 'counted',
    values: { value: '22' },
    interpretation: { value: 'H' },
    entered: { count: 11, seconds: 30 },
  },
  'pulse-rate-palpated': {
    ...bare,
    index: 1,
    vital: 'pulse-rate',
    method: 'palpation',
    site: 'radial-artery',
    side: 'left',
    position: 'sitting',
    values: { value: '88' },
    interpretation: { value: 'N' },
    entered: { count: 44, seconds: 30 },
    context: { regular: false },
    recorderAsserted: true,
  },
  'oxygen-saturation-unreviewed': {
    status: 'preliminary',
    values: { value: '91' },
    interpretation: { value: 'L' },
    recorder: null,
    encounter: null,
    takenAt: { epochMs: Date.UTC(2026, 2, 2, 6, 40, 3, 250), offsetMinutes: 0 },
  },
  'blood-pressure-unconfirmed': {
    ...PRESSURE,
    index: 4,
    status: 'preliminary',
    verdict: 'held',
    hold: 'value',
    holdUntilMs: Date.UTC(2026, 2, 2, 7, 45),
    values: { systolic: '186', diastolic: '94' },
    interpretation: { systolic: 'HH', diastolic: 'H' },
    context: { cuffSize: 'large-adult', armCircumferenceCm: 36.5, armAtHeartLevel: true },
    findings: [disagreement],
    note: 'Talking <while> measured & "restless".',
  },
  'blood-pressure-mean-in-error': {
    ...PRESSURE,
    index: 5,
    verdict: 'noted',
    method: 'oscillometry',
    values: { systolic: '137', diastolic: '82', mean: '150' },
    findings: [meanAboveSystolic],
  },
  'blood-pressure-kilopascals': {
    ...PRESSURE,
    method: 'oscillometry',
    values: { systolic: '129.0', diastolic: '78.0', mean: '95.3' },
    interpretation: { systolic: 'N', diastolic: 'N' },
    entered: { systolic: '17.2', diastolic: '10.4', mean: '12.7', unit: 'kPa' },
  },
  'blood-pressure-palpated': {
    ...PRESSURE,
    method: 'palpation',
    values: { systolic: '118' },
    interpretation: { systolic: 'N' },
  },
  'blood-pressure-refused': {
    ...PRESSURE,
    status: 'cancelled',
    values: {},
    interpretation: {},
    absent: 'refused',
  },
  'body-temperature-corrected': {
    ...bare,
    vital: 'body-temperature',
    method: 'thermometry',
    site: 'oral',
    version: 2,
    stampMs: Date.UTC(2026, 2, 2, 8, 2, 0, 1),
    status: 'corrected',
    values: { value: '37.61' },
    entered: { value: '99.7', unit: '[degF]' },
    context: { minutesSinceHotDrink: 25 },
  },
  'body-temperature-in-error': {
    ...bare,
    vital: 'body-temperature',
    site: 'tympanic',
    side: 'right',
    version: 3,
    status: 'entered-in-error',
    values: { value: '36.50' },
  },
  'body-height': { ...bare, vital: 'body-height', values: { value: '171.5' }, setId: null },
  'body-weight-pounds': {
    ...bare,
    vital: 'body-weight',
    status: 'amended',
    version: 2,
    values: { value: '68.72' },
    entered: { value: '151.5', unit: '[lb_av]' },
  },
  'oxygen-flow': { ...bare, vital: 'oxygen-flow', values: { value: '0' } },
  'inspired-oxygen': { ...bare, vital: 'inspired-oxygen', values: { value: '28.0' } },
  'oxygen-saturation-questionable': {
    ...bare,
    vital: 'oxygen-saturation',
    method: 'pulse-oximetry',
    site: 'finger',
    device: { system: 'urn:example:device', value: 'MON-4' },
    status: 'preliminary',
    verdict: 'noted',
    values: { value: '88' },
    interpretation: { value: 'LL' },
    report: {
      at: 'OBX 6',
      reviewed: false,
      signal: ['questionable'],
      deviceTime: '2026-03-02T07:39:23+01:00',
    },
    findings: [
      {
        rule: 'signal-doubtful',
        verdict: 'noted',
        readings: [2],
        message: 'Oxygen saturation (OBX 6): the device itself calls this value questionable.',
        advice: 'Look at the patient and at the sensor, and measure again if the value matters.',
        source: 'HL7 Point-of-Care Device Implementation Guide, OBX-8 and measurement status, 2026',
      },
    ],
  },
  'blood-pressure-calibrating': {
    ...PRESSURE,
    method: 'oscillometry',
    recorder: null,
    device: { system: 'urn:example:device', value: 'MON-4' },
    status: 'preliminary',
    report: { at: 'entry 3', reviewed: true, signal: ['calibrating', 'early'] },
  },
  'consciousness-voice': { ...bare, vital: 'consciousness', values: {}, code: 'voice' },
  'consciousness-not-possible': {
    ...bare,
    vital: 'consciousness',
    status: 'cancelled',
    values: {},
    absent: 'not-possible',
  },
};

/** What was calculated from a pressure. */
const DERIVED: Readonly<Record<string, readonly [DerivedKind, Partial<ReadingVersion>]>> = {
  'derived-pulse-pressure': [
    'pulse-pressure',
    {
      ...PRESSURE,
      values: { systolic: '131.3', diastolic: '82.5' },
      entered: { systolic: '17.5', diastolic: '11.0', unit: 'kPa' },
      derived: { 'pulse-pressure': '48.8', 'mean-pressure': '99', factor: '1/3' },
    },
  ],
  'derived-mean-unconfirmed': [
    'mean-pressure',
    {
      ...PRESSURE,
      values: { systolic: '186', diastolic: '94' },
      status: 'preliminary',
      verdict: 'held',
      hold: 'value',
      findings: [disagreement],
      note: 'Restless.',
      context: { cuffSize: 'adult' },
      derived: { 'pulse-pressure': '92', 'mean-pressure': '131', factor: '0.4' },
    },
  ],
  'derived-mean-no-longer': [
    'mean-pressure',
    {
      ...PRESSURE,
      method: 'oscillometry',
      version: 2,
      status: 'corrected',
      values: { systolic: '128', diastolic: '76', mean: '91' },
      derived: { 'pulse-pressure': '52', 'mean-pressure': null },
    },
  ],
};

const PANELS: Readonly<Record<string, Partial<PanelVersion>>> = {
  'panel-final': {},
  'panel-preliminary-late': {
    status: 'preliminary',
    encounter: null,
    recorderAsserted: true,
    receivedAtMs: Date.UTC(2026, 2, 2, 14, 40),
  },
  'panel-corrected': { version: 3, status: 'corrected', setId: null },
  'panel-in-error': { version: 4, status: 'entered-in-error', recorder: null },
};

export const EDITION_1: Readonly<Record<string, ObservationVersion>> = {
  ...mapped(CHANGES, (change) => asShown(sampleVersion(change), 'reading')),
  ...mapped(PANELS, (change) => asPanel(samplePanel(change))),
  ...mapped(DERIVED, ([kind, change]) => asShown(sampleVersion(change), kind)),
};

function mapped<From, To>(
  of: Readonly<Record<string, From>>,
  to: (one: From) => To,
): Record<string, To> {
  return Object.fromEntries(Object.entries(of).map(([name, one]) => [name, to(one)]));
}
