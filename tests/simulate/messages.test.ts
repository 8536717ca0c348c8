/** What the simulated devices send is what the standards ask for, with every fault and without one. */
import type { Bundle, FhirResource, Observation } from 'fhir/r4.js';
import { checkSet } from '../../src/contract/compile.js';
import { checkHeader } from '../../src/intake/hl7v2/check-header.js';
import { parseMessage } from '../../src/intake/hl7v2/parse-message.js';
import { readHl7 } from '../../src/intake/hl7v2/read-hl7.js';
import { FAULTS } from '../../src/simulate/faults.js';
import type { Measurement } from '../../src/simulate/measurement.js';
import { writeBundle } from '../../src/simulate/protocols/write-bundle.js';
import { writeOru } from '../../src/simulate/protocols/write-oru.js';
import { writeSet } from '../../src/simulate/protocols/write-set.js';
import { MDC_TERMS } from '../../src/vitals/codes-mdc.js';
import { UNIT_ROWS } from '../../src/vitals/codes-units.js';
import type { IncomingReading } from '../../src/vitals/shapes.js';
import { NO_MAPPING } from '../../src/vitals/source-profile.js';
import { bundleFaults } from '../fhir-validation/bundle-faults.js';
import { AT, measurementsOf } from './simulated-ward.js';

const WITH_AND_WITHOUT = [null, ...FAULTS];
const MESSAGE_ID = '3f0d8a53-6c1e-4f0b-9c38-1d2b7a6e5c40';
const PROFILE = {
  attended: true,
  zone: null,
  defaultAuthority: null,
  authorities: {},
  mapping: NO_MAPPING,
};

function oruOf(measurement: Measurement): Buffer {
  const names = {
    application: 'WARD|SIM',
    facility: 'LARK&FIELD',
    controlId: 'C0FFEE00000000000042',
  };
  return writeOru(measurement, names);
}

/**
 * That a resource should have a narrative is a recommendation (R4 dom-6, a warning); the checker knows no
 * profiles of the Personal Health Device guide.
 */
const BESIDE_THE_POINT = /^invariant dom-6$|\/uv\/phd\/.* not a profile that is known here$/;

/** The profiles of that guide fix another address for a code system than the checker has it from. */
const STATUS_OF_PROFILES = 'http://hl7.org/fhir/uv/pocd/CodeSystem/measurement-status';
const STATUS_AS_PUBLISHED = 'http://terminology.hl7.org/CodeSystem/measurement-status';

/** With references as they are once a server has taken the transaction: type and id. */
function asStored(text: string): Bundle<FhirResource> {
  const bundle = JSON.parse(text) as Bundle<FhirResource>;
  const stored = (bundle.entry ?? []).reduce(
    (all, { fullUrl = '', resource }, index) =>
      all.replaceAll(
        `"reference":"${fullUrl}"`,
        `"reference":"${resource?.resourceType ?? ''}/${index}"`,
      ),
    text.replaceAll(STATUS_OF_PROFILES, STATUS_AS_PUBLISHED),
  );
  return JSON.parse(stored) as Bundle<FhirResource>;
}

/** What a reading says, without what protocols tell differently or not at all. */
function gist({ vital, method, value, systolic, diastolic, mean, unit, device }: IncomingReading) {
  const numbers = [value, systolic, diastolic, mean].map((one) =>
    one === undefined ? null : Number(one),
  );
  const ucum = unit?.replace(/^\{.*\}/, '');
  // A thermometer is told by where it measures, and has no method of its own in a code.
  return { vital, method: vital === 'body-temperature' ? null : method, numbers, ucum, device };
}

describe.each(WITH_AND_WITHOUT)('messages with the fault %s', (fault) => {
  it('in JSON fit the schema of a set', () => {
    for (const measurement of measurementsOf('json', fault)) {
      const set: unknown = JSON.parse(JSON.stringify(writeSet(measurement, MESSAGE_ID)));
      expect(checkSet(set)).toMatchObject({ ok: true });
    }
  });

  it('in HL7 v2 are read without a fault or a warning', () => {
    for (const measurement of measurementsOf('hl7v2', fault)) {
      const message = parseMessage(oruOf(measurement));
      const check = checkHeader(message);
      expect(check).toMatchObject({ kind: 'accepted', warnings: [], purpose: 'observations' });
      expect(message.faults).toEqual([]);
    }
  });

  it('in HL7 v2 bring the readings that were measured, of the same device, patient and time', () => {
    for (const measurement of measurementsOf('hl7v2', fault)) {
      const delivery = readHl7(parseMessage(oruOf(measurement)), PROFILE);
      expect(delivery.faults).toEqual([]);
      if (delivery.kind !== 'observations') throw new Error(delivery.kind);
      const good = measurement.samples.filter(({ signal }) => signal !== 'lost');
      const readings = delivery.sets.flatMap((set) => set.readings);
      expect(readings.map(gist)).toEqual(good.map(({ reading }) => gist(reading)));
      const { claimed, takenAt, device } = measurement;
      for (const set of delivery.sets) {
        expect(set).toMatchObject({
          patient: {
            identifier: claimed.identifier,
            familyName: claimed.familyName,
            birthDate: claimed.birthDate,
          },
          ...(device.operator && { recorder: { identifier: device.operator } }),
          location: claimed.place,
        });
      }
      for (const { takenAt: told = '' } of readings) {
        expect(Date.parse(told)).toBe(takenAt.epochMs);
        expect(told).toMatch(/\+05:30$/);
      }
      for (const { report } of readings) expect(report?.doubts ?? []).toEqual([]);
    }
  });

  it('in FHIR meet the R4 schema, the invariants and the vital-sign profiles', () => {
    // All kinds of device, at beds of all ages.
    const some = measurementsOf('fhir', fault).filter((_, index) => index % 5 === 0);
    for (const measurement of some) {
      const bundle = asStored(writeBundle(measurement, MESSAGE_ID));
      expect(bundleFaults(bundle).filter((one) => !BESIDE_THE_POINT.test(one))).toEqual([]);
    }
  });
});

describe('a message in FHIR', () => {
  it('has digits as the device shows them', () => {
    const texts = measurementsOf('fhir', null).map((one) => ({
      one,
      text: writeBundle(one, MESSAGE_ID),
    }));
    const whole = texts.filter(({ one }) =>
      one.samples.some(({ reading }) => String(reading.value).endsWith('.0')),
    );
    expect(whole.length).toBeGreaterThan(0);
    for (const { one, text } of whole) {
      expect(text).toContain(`"value":${one.samples[0]?.reading.value ?? ''},"unit"`);
    }
  });

  it('refers to nothing that is not in it', () => {
    for (const measurement of measurementsOf('fhir', null)) {
      const text = writeBundle(measurement, MESSAGE_ID);
      const { entry = [] } = JSON.parse(text) as Bundle;
      const urls = entry.map(({ fullUrl }) => fullUrl);
      expect(new Set(urls).size).toBe(urls.length);
      for (const [, url] of text.matchAll(/"reference":"([^"]+)"/g)) expect(urls).toContain(url);
    }
  });

  it('of a lost signal has a reason and no value, of a doubted one the status of the device guides', () => {
    const observations = measurementsOf('fhir', 'loose-probe').flatMap((measurement) => {
      const { entry = [] } = JSON.parse(
        writeBundle(measurement, MESSAGE_ID),
      ) as Bundle<FhirResource>;
      return entry.flatMap(({ resource }) =>
        resource?.resourceType === 'Observation' ? [resource] : [],
      );
    });
    type Part = NonNullable<Observation['component']>[number];
    const parts = observations.flatMap((one): (Observation | Part)[] => one.component ?? [one]);
    const reasons = parts.map((part) => part.dataAbsentReason?.coding?.[0]?.code);
    const doubts = observations.map((one) => one.interpretation?.[0]?.coding?.[0]?.code);
    expect(new Set(reasons)).toEqual(new Set(['error', undefined]));
    expect(new Set(doubts)).toEqual(new Set(['questionable', undefined]));
    for (const part of parts) {
      expect(part.valueQuantity === undefined).toBe(part.dataAbsentReason !== undefined);
    }
  });
});

describe('the codes of the simulator', () => {
  const rows = measurementsOf('hl7v2', null).flatMap((measurement) =>
    parseMessage(oruOf(measurement)).segments.filter(({ id }) => id === 'OBX'),
  );

  // NIST term table, January 2025, as typed for the gateway; devices and their parts are not in that table.
  it('are numbers of IEEE 11073-10101 with a reference id of theirs', () => {
    const measured = rows.filter((obx) => obx.text(2) === 'NM');
    expect(measured.length).toBeGreaterThan(100);
    for (const obx of measured) {
      const term = MDC_TERMS.find(({ code }) => code === Number(obx.text(3)));
      expect(term?.names).toContain(obx.text(3, 2));
    }
  });

  it('have units by MDC number and name, by UCUM, or by both', () => {
    const forms = new Set<string>();
    for (const obx of rows.filter((one) => one.text(2) === 'NM')) {
      const codes = [1, 4].filter((first) => obx.text(6, first) !== '');
      forms.add(codes.map((first) => obx.text(6, first + 2)).join(' and '));
      for (const first of codes) {
        const [code, name, system] = [0, 1, 2].map((more) => obx.text(6, first + more));
        const row = UNIT_ROWS.find(({ mdc, ucum }) =>
          system === 'MDC' ? String(mdc) === code : ucum.includes(code ?? ''),
        );
        expect(row).toBeDefined();
        if (system === 'MDC') expect(row?.names).toContain(name);
      }
    }
    expect(forms).toEqual(new Set(['MDC', 'UCUM', 'MDC and UCUM']));
  });

  it('name devices by EUI-64 that are locally administered and no two alike', () => {
    const ids = rows.filter((obx) => obx.text(18) !== '').map((obx) => obx.text(18, 3));
    expect(new Set(ids).size).toBe(ids.length);
    for (const id of ids) {
      expect(id).toMatch(/^[0-9A-F]{16}$/);
      expect(Number.parseInt(id.slice(0, 2), 16) & 0b11).toBe(0b10);
    }
  });
});

describe('what goes wrong on purpose', () => {
  it('changes what it names, and nothing else', () => {
    const good = measurementsOf('hl7v2', null);
    for (const fault of FAULTS) {
      for (const [index, bad] of measurementsOf('hl7v2', fault).entries()) {
        const before = good[index];
        if (before === undefined) throw new Error('no such device');
        const sameWords = JSON.stringify(bad.claimed) === JSON.stringify(before.claimed);
        expect(sameWords).toBe(fault !== 'swapped-patient');
        expect(bad.claimed.identifier).toEqual(before.claimed.identifier);
        const offMs = Math.abs(bad.takenAt.epochMs - AT.epochMs);
        expect(offMs).toBe(fault === 'clock-hour-off' ? 3_600_000 : 0);
        expect(bad.sentAt).toEqual(AT);
        const signals = new Set(bad.samples.map(({ signal }) => signal));
        expect(signals.has('lost') || signals.has('questionable')).toBe(fault === 'loose-probe');
      }
    }
  });

  it('labels a number with another unit so that it cannot pass', () => {
    for (const { samples } of measurementsOf('json', 'wrong-unit')) {
      for (const { reading } of samples) {
        if (reading.vital === 'body-temperature') {
          const number = Number(reading.value);
          expect(reading.unit === 'Cel' ? number > 90 : number < 42).toBe(true);
        }
        if (reading.vital === 'oxygen-saturation')
          expect(Number(reading.value)).toBeLessThanOrEqual(1);
        if (reading.vital === 'blood-pressure') expect(Number(reading.systolic)).toBeLessThan(25);
      }
    }
  });
});
