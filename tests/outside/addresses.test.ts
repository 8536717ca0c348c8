import fc from 'fast-check';
import ipaddr from 'ipaddr.js';
import {
  admitAddresses,
  isAddressRange,
  isLoopbackAddress,
  kindOfAddress,
} from '../../src/outside/addresses.js';

// The registries of special-purpose addresses of IANA (RFC 6890); IPv6: RFC 4291 §2.4.
describe('the kind of an address', () => {
  it.each([
    ['8.8.8.8', 'public'],
    ['100.63.255.255', 'public'],
    ['172.15.255.255', 'public'],
    ['172.32.0.0', 'public'],
    ['192.167.255.255', 'public'],
    ['223.255.255.255', 'public'],
    ['2606:4700::1', 'public'],
    ['127.0.0.1', 'private'],
    ['127.255.0.9', 'private'],
    ['10.0.0.1', 'private'],
    ['172.16.0.1', 'private'],
    ['172.31.255.255', 'private'],
    ['192.168.255.255', 'private'],
    ['100.64.0.1', 'private'],
    ['::1', 'private'],
    ['fd12:3456::1', 'private'],
    ['0.0.0.0', 'never'],
    ['169.254.169.254', 'never'],
    ['192.0.2.7', 'never'],
    ['198.19.0.1', 'never'],
    ['224.0.0.1', 'never'],
    ['255.255.255.255', 'never'],
    ['::', 'never'],
    ['fe80::1', 'never'],
    ['fe80::1%eth0', 'never'],
    ['ff02::1', 'never'],
    ['::ffff:127.0.0.1', 'never'],
    ['::ffff:808:808', 'never'],
    ['64:ff9b::7f00:1', 'never'],
    ['2002:7f00:1::', 'never'],
    ['2001:0:7f00:1::', 'never'],
    ['2001:db8::1', 'never'],
    ['keys.example', 'never'],
    ['', 'never'],
  ])('%s is %s', (address, kind) => {
    expect(kindOfAddress(address)).toBe(kind);
  });

  it('calls no address public that another library counts as special', () => {
    const addresses = fc.oneof(
      fc.ipV4(),
      fc.ipV6(),
      fc.ipV4().map((address) => `::ffff:${address}`),
      fc
        .tuple(
          fc.constantFrom(0, 10, 100, 127, 169, 172, 192, 198, 203, 224, 240),
          fc.nat(2 ** 24 - 1),
        )
        .map(([first, rest]) => [first, rest >> 16, (rest >> 8) & 255, rest & 255].join('.')),
    );
    fc.assert(
      fc.property(addresses, (address) => {
        if (kindOfAddress(address) !== 'public') return;
        // Written in the one form that both read.
        const host = address.includes(':') ? new URL(`http://[${address}]`).hostname : address;
        expect(ipaddr.process(host.replace(/[[\]]/g, '')).range()).toBe('unicast');
      }),
      { numRuns: 2000 },
    );
  });
});

describe('addresses of the site', () => {
  it('are admitted where it has named their range, and no others', () => {
    const admits = admitAddresses(['10.1.0.0/16', 'fd00:7::/32', '192.168.4.4']);
    for (const address of ['8.8.8.8', '10.1.255.1', 'fd00:7::9', '192.168.4.4']) {
      expect([address, admits(address)]).toEqual([address, true]);
    }
    for (const address of ['10.2.0.1', '127.0.0.1', '::1', 'fd00:8::1', '192.168.4.5']) {
      expect([address, admits(address)]).toEqual([address, false]);
    }
  });

  it('are never those of the neighbours on the wire, whatever range is named', () => {
    const admits = admitAddresses(['0.0.0.0/0', '::/0']);
    expect(admits('127.0.0.1')).toBe(true);
    for (const address of [
      '169.254.169.254',
      'fe80::1',
      '::ffff:10.0.0.1',
      '224.0.0.1',
      '0.0.0.0',
    ]) {
      expect([address, admits(address)]).toEqual([address, false]);
    }
  });

  it('are written as an address or a range', () => {
    for (const text of ['10.0.0.0/8', '10.0.0.1', '::1', 'fd00::/8', '0.0.0.0/0']) {
      expect([text, isAddressRange(text)]).toEqual([text, true]);
    }
    for (const text of [
      '10.0.0.0/33',
      '10.0.0/8',
      'ward',
      'fd00::/129',
      '10.0.0.0/8/8',
      'fe80::%1',
      '',
    ]) {
      expect([text, isAddressRange(text)]).toEqual([text, false]);
    }
  });

  it('knows loopback', () => {
    expect(['127.0.0.1', '127.9.9.9', '::1'].every(isLoopbackAddress)).toBe(true);
    expect(['128.0.0.1', '127.example', '::2'].some(isLoopbackAddress)).toBe(false);
  });
});
