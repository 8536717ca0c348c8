/** The device of a message as resources: one of its own, or the tree of a monitor with its metrics. */
import type { BundleEntry, CodeableConcept, Device, DeviceMetric, FhirResource } from 'fhir/r4.js';
import { MDC_SYSTEM } from '../../vitals/codes.js';
import { identifierOf, nameOf } from '../device.js';
import type { SimulatedDevice } from '../device.js';
import type { Sample } from '../devices/sample.js';
import type { Measurement } from '../measurement.js';
import { DEVICE_TYPES, MONITOR_MODULES, codeOf, unitOf } from './codes.js';
import type { Coded, CodedUnit } from './codes.js';

type Entry = BundleEntry<FhirResource>;

export interface DescribedDevice {
  readonly entries: readonly Entry[];
  /** Full URL of what the Observation of a sample names as its device. */
  readonly deviceOf: (sample: Sample) => string;
}

/** @param urlOf makes the full URL of a name within the message */
export function describeDevice(
  measurement: Measurement,
  urlOf: (name: string) => string,
): DescribedDevice {
  const { device } = measurement;
  const top = topEntry(device, urlOf('device'));
  if (device.kind !== 'monitor') return { entries: [top], deviceOf: () => urlOf('device') };
  const parts = MONITOR_MODULES.flatMap(({ module, channel, has }): readonly Entry[] => {
    const own = measurement.samples.filter(({ reading }) => has(reading));
    if (own.length === 0) return [];
    return [
      partEntry(module, urlOf(module.name), urlOf('device')),
      partEntry(channel, urlOf(channel.name), urlOf(module.name)),
      ...own.map(({ reading }) => {
        const code = codeOf(reading);
        const around = { source: urlOf('device'), parent: urlOf(channel.name) };
        return metricEntry(code, unitOf(reading), urlOf(code.name), around);
      }),
    ];
  });
  return { entries: [top, ...parts], deviceOf: ({ reading }) => urlOf(codeOf(reading).name) };
}

/** A monitor tells its own state anew each time; a personal device is told once, and known from then on. */
function topEntry(device: SimulatedDevice, fullUrl: string): Entry {
  const { system, value } = identifierOf(device);
  const query = `identifier=${system}|${value}`;
  const resource: Device = {
    resourceType: 'Device',
    identifier: [{ system, value }],
    status: 'active',
    manufacturer: 'Larkfield simulated devices',
    deviceName: [{ name: nameOf(device), type: 'user-friendly-name' }],
    type: conceptOf(DEVICE_TYPES[device.kind]),
  };
  return {
    fullUrl,
    resource,
    request:
      device.kind === 'monitor'
        ? { method: 'PUT', url: `Device?${query}` }
        : { method: 'POST', url: 'Device', ifNoneExist: query },
  };
}

function partEntry(code: Coded, fullUrl: string, parent: string): Entry {
  const resource: Device = {
    resourceType: 'Device',
    type: conceptOf(code),
    parent: { reference: parent },
  };
  return { fullUrl, resource, request: { method: 'POST', url: 'Device' } };
}

function metricEntry(
  code: Coded,
  unit: CodedUnit,
  fullUrl: string,
  { source, parent }: { readonly source: string; readonly parent: string },
): Entry {
  const resource: DeviceMetric = {
    resourceType: 'DeviceMetric',
    type: conceptOf(code),
    unit: conceptOf(unit),
    source: { reference: source },
    parent: { reference: parent },
    operationalStatus: 'on',
    category: 'measurement',
  };
  return { fullUrl, resource, request: { method: 'POST', url: 'DeviceMetric' } };
}

function conceptOf({ mdc, name }: Pick<Coded, 'mdc' | 'name'>): CodeableConcept {
  return { coding: [{ system: MDC_SYSTEM, code: String(mdc), display: name }], text: name };
}
