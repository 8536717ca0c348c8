import fc from 'fast-check';
import {
  canonicalDevice,
  EUI64_SYSTEM,
  URI_SYSTEM,
  writeEui64,
} from '../../src/vitals/device-identifier.js';

describe('device identifiers', () => {
  it('spell an EUI-64 as the Personal Health Device guide does', () => {
    // The form of Device.identifier in the guide: pairs of upper-case digits with dashes.
    expect(writeEui64('fe:ed:ab:ee:de:ad:77:c3')).toBe('FE-ED-AB-EE-DE-AD-77-C3');
    for (const text of [
      '',
      'FE-ED',
      'FE-ED-AB-EE-DE-AD-77-C3-00',
      '0xFEEDABEEDEAD77C3',
      'FEEDABEEDEAD77CG',
    ]) {
      expect(writeEui64(text)).toBeNull();
    }
  });

  it('lead from every spelling of one EUI-64 to one, and never to another', () => {
    const bytes = fc.uint8Array({ minLength: 8, maxLength: 8 });
    const separator = fc.constantFrom('', '-', ':', '.', ' ');
    fc.assert(
      fc.property(bytes, bytes, separator, fc.boolean(), (one, other, between, upper) => {
        const pairs = [...one].map((byte) => byte.toString(16).padStart(2, '0'));
        const spelled = pairs.join(between);
        const text = upper ? spelled.toUpperCase() : spelled;
        const canonical = canonicalDevice({ system: EUI64_SYSTEM, value: text });
        expect(canonical.value.split('-').map((pair) => parseInt(pair, 16))).toEqual([...one]);
        expect(canonicalDevice(canonical)).toEqual(canonical);
        const differ = Buffer.compare(one, other) !== 0;
        const second = writeEui64(Buffer.from(other).toString('hex'));
        expect(second !== canonical.value).toBe(differ);
      }),
    );
  });

  it('leave alone what they do not know', () => {
    for (const identifier of [
      { system: EUI64_SYSTEM, value: 'monitor 7' },
      { system: 'urn:example:serial', value: 'Ab-01' },
      { system: URI_SYSTEM, value: 'https://Larkfield.example/M/7' },
    ]) {
      expect(canonicalDevice(identifier)).toEqual(identifier);
    }
    const uuid = 'urn:uuid:8F1B4A52-9C40-4D7E-8E21-5B0A6C3D2E10';
    expect(canonicalDevice({ system: URI_SYSTEM, value: uuid }).value).toBe(uuid.toLowerCase());
  });
});
