import { BlockList, isIP } from 'node:net';

/**
 * `public`: any host of the internet may have it. `private`: of this machine or its site, connected to
 * only where the site has said so. `never`: nobody's service has it (the neighbours on the wire, among
 * them the addresses under which clouds hand out credentials; groups; documentation; tunnels that
 * carry another address inside).
 */
type AddressKind = 'public' | 'private' | 'never';

type Range = readonly [network: string, bits: number];

/** IANA's registry of special-purpose IPv4 addresses (RFC 6890 and its updates). */
const IPV4_PRIVATE: readonly Range[] = [
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['172.16.0.0', 12],
  ['192.168.0.0', 16],
];
const IPV4_NEVER: readonly Range[] = [
  ['0.0.0.0', 8],
  ['169.254.0.0', 16],
  ['192.0.0.0', 24],
  ['192.0.2.0', 24],
  ['192.88.99.0', 24],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
  ['224.0.0.0', 4],
  ['240.0.0.0', 4],
];

/** Loopback (RFC 4291 §2.5.3) and unique local addresses (RFC 4193). */
const IPV6_PRIVATE: readonly Range[] = [
  ['::1', 128],
  ['fc00::', 7],
];
/** Of IPv6 only global unicast is public (RFC 4291 §2.4: 2000::/3), without what is set apart in it. */
const IPV6_GLOBAL: readonly Range[] = [['2000::', 3]];
const IPV6_NEVER: readonly Range[] = [
  ['2001::', 23],
  ['2001:db8::', 32],
  ['2002::', 16],
  ['3fff::', 20],
];

function listOf(family: 'ipv4' | 'ipv6', ranges: readonly Range[]): BlockList {
  const list = new BlockList();
  for (const [network, bits] of ranges) list.addSubnet(network, bits, family);
  return list;
}

const LISTS = {
  ipv4: { private: listOf('ipv4', IPV4_PRIVATE), never: listOf('ipv4', IPV4_NEVER) },
  ipv6: {
    private: listOf('ipv6', IPV6_PRIVATE),
    never: listOf('ipv6', IPV6_NEVER),
    global: listOf('ipv6', IPV6_GLOBAL),
  },
} as const;

/** What kind of address a text is; a text that is none, or names an interface (`%eth0`), is never good. */
export function kindOfAddress(address: string): AddressKind {
  const family = address.includes('%') ? 0 : isIP(address);
  if (family === 4) {
    if (LISTS.ipv4.never.check(address)) return 'never';
    return LISTS.ipv4.private.check(address) ? 'private' : 'public';
  }
  if (family !== 6) return 'never';
  if (LISTS.ipv6.private.check(address, 'ipv6')) return 'private';
  const isGlobal = LISTS.ipv6.global.check(address, 'ipv6');
  return isGlobal && !LISTS.ipv6.never.check(address, 'ipv6') ? 'public' : 'never';
}

/** RFC 6890 and RFC 4291 §2.5.3: 127.0.0.0/8 and ::1. */
export function isLoopbackAddress(address: string): boolean {
  return isIP(address) === 4 ? address.startsWith('127.') : address === '::1';
}

export function isLoopbackHost(host: string): boolean {
  return host === 'localhost' || isLoopbackAddress(host);
}

/** A host in lower case, or `*.name` for all below a name. */
export function isHostPattern(text: string): boolean {
  return isIP(text) !== 0 || /^(\*\.)?[a-z0-9]([a-z0-9.-]*[a-z0-9])?$/.test(text);
}

/** An address range such as 10.1.0.0/16, or one address. */
export function isAddressRange(text: string): boolean {
  const [address = '', bits, ...rest] = text.split('/');
  const family = isIP(address);
  if (family === 0 || address.includes('%') || rest.length > 0) return false;
  return (
    bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= (family === 4 ? 32 : 128))
  );
}

/**
 * The rule for addresses that may be connected to: public ones, and private ones within `networks`
 * (ranges as {@link isAddressRange} takes them).
 */
export function admitAddresses(networks: readonly string[]): (address: string) => boolean {
  const admitted = { ipv4: new BlockList(), ipv6: new BlockList() };
  for (const text of networks) {
    const [network = '', bits] = text.split('/');
    const family = isIP(network) === 6 ? 'ipv6' : 'ipv4';
    const length = bits === undefined ? (family === 'ipv4' ? 32 : 128) : Number(bits);
    admitted[family].addSubnet(network, length, family);
  }
  return (address) => {
    const kind = kindOfAddress(address);
    if (kind !== 'private') return kind === 'public';
    const family = isIP(address) === 6 ? 'ipv6' : 'ipv4';
    return admitted[family].check(address, family);
  };
}
