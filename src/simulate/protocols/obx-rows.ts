/** The rows of a message: the device and its parts, then what each of them measured, by their paths. */
import type { IncomingReading, Moment } from '../../vitals/shapes.js';
import type { DeviceKind } from '../device.js';
import type { Sample } from '../devices/sample.js';
import type { Measurement } from '../measurement.js';
import {
  DEVICE_TYPES,
  MONITOR_MODULES,
  PERFUSION,
  PERFUSION_UNIT,
  codeOf,
  mdcTriplet,
  numbersOf,
  siteOf,
  unitOf,
} from './codes.js';
import type { Coded, CodedUnit } from './codes.js';

/** One OBX; a row about a device or a part of one has no value, a metric without a signal an empty one. */
export interface ObxRow {
  readonly code: Pick<Coded, 'mdc' | 'name'>;
  /** OBX-4. */
  readonly path: string;
  readonly value?: string;
  /** Of metrics only. */
  readonly unit?: string;
  /** OBX-8. */
  readonly flag?: 'QUES' | 'INV';
  /** OBX-14, where it is not inherited. */
  readonly takenAt?: Moment;
  /** It names the device: OBX-18. */
  readonly isDevice?: true;
  readonly site?: string;
}

const FLAGS = { good: undefined, questionable: 'QUES', lost: 'INV' } as const;

/** Receivers must read either; devices of different makers write them differently. */
const UNIT_FORMS: Readonly<Record<DeviceKind, (unit: CodedUnit) => string>> = {
  monitor: mdcTriplet,
  oximeter: mdcTriplet,
  cuff: ucumUnit,
  thermometer: (unit) => `${mdcTriplet(unit)}^${ucumUnit(unit)}`,
};

function ucumUnit({ ucum }: CodedUnit): string {
  return `${ucum}^${ucum}^UCUM`;
}

export function metricRows(measurement: Measurement): readonly ObxRow[] {
  const { device } = measurement;
  const top: ObxRow = { code: DEVICE_TYPES[device.kind], path: '1.0.0.0', isDevice: true };
  return [top, ...(device.kind === 'monitor' ? monitorRows(measurement) : flatRows(measurement))];
}

/** Module, channel, metrics: the time of a pressure stands at its channel and is inherited from there. */
function monitorRows({ samples, takenAt }: Measurement): readonly ObxRow[] {
  return MONITOR_MODULES.flatMap(({ module, channel, has }, index): readonly ObxRow[] => {
    const own = samples.filter(({ reading }) => has(reading));
    if (own.length === 0) return [];
    const path = `1.${index + 1}`;
    const isEpisodic = own.some(({ reading }) => reading.vital === 'blood-pressure');
    return [
      { code: module, path: `${path}.0.0` },
      { code: channel, path: `${path}.1.0`, ...(isEpisodic && { takenAt }) },
      ...numbered(own, `${path}.1`, 'monitor'),
    ];
  });
}

/** As gateways of personal devices write them: no parts, all metrics below the device. */
function flatRows({ samples, takenAt, device }: Measurement): readonly ObxRow[] {
  return numbered(samples, '1.0.0', device.kind).map((row) => ({ ...row, takenAt }));
}

function numbered(samples: readonly Sample[], parent: string, kind: DeviceKind): readonly ObxRow[] {
  return samples
    .flatMap((sample) => [...signRows(sample, kind), ...perfusionRows(sample, kind)])
    .map((row, index) => ({ ...row, path: `${parent}.${index + 1}` }));
}

type MetricRow = Omit<ObxRow, 'path'>;

/** A pressure is a row each of its parts. */
function signRows({ reading, signal }: Sample, kind: DeviceKind): readonly MetricRow[] {
  const flag = FLAGS[signal];
  return numbersOf(reading).map(({ part, text }) => ({
    code: codeOf(reading, part),
    value: signal === 'lost' ? '' : text,
    unit: UNIT_FORMS[kind](unitOf(reading)),
    ...(flag !== undefined && { flag }),
    ...placeOf(reading),
  }));
}

function placeOf(reading: IncomingReading): Pick<ObxRow, 'site'> {
  const site = siteOf(reading);
  return site === null ? {} : { site: mdcTriplet(site) };
}

/** Not a vital sign: what a receiver judges the saturation by. */
function perfusionRows({ perfusion }: Sample, kind: DeviceKind): readonly MetricRow[] {
  if (perfusion === undefined) return [];
  return [{ code: PERFUSION, value: perfusion, unit: UNIT_FORMS[kind](PERFUSION_UNIT) }];
}
