import { isIPv4 } from 'node:net';
import type { Socket } from 'node:net';
import { TLSSocket } from 'node:tls';

/** Who is at the other end of a connection. */
export interface Peer {
  /** An IPv4 address in its own form, also where the system maps it into IPv6. */
  readonly address: string;
  readonly port: number;
  /** SHA-256 of the client's certificate (DER), 64 hex digits in lower case; null without TLS. */
  readonly certificateFingerprint: string | null;
  /** Connections of one listener are numbered from 1 as they come. */
  readonly connection: number;
}

/** Undefined if the connection is gone already. */
export function readPeer(socket: Socket, connection: number): Peer | undefined {
  const { remoteAddress, remotePort } = socket;
  if (remoteAddress === undefined || remotePort === undefined) return undefined;
  return {
    address: plainAddress(remoteAddress),
    port: remotePort,
    certificateFingerprint: readFingerprint(socket),
    connection,
  };
}

/** Of the client's certificate; null without TLS, or without a certificate. */
export function readFingerprint(socket: Socket): string | null {
  const certificate = socket instanceof TLSSocket ? socket.getPeerX509Certificate() : undefined;
  return certificate?.fingerprint256.replaceAll(':', '').toLowerCase() ?? null;
}

/** ::ffff:192.0.2.7 is 192.0.2.7 (IPv4-mapped addresses, RFC 4291 §2.5.5.2). */
export function plainAddress(address: string): string {
  const mapped = address.replace(/^::ffff:/i, '');
  return isIPv4(mapped) ? mapped : address;
}

/** Whether an address is of this machine. */
export function isLoopback(address: string): boolean {
  return address === '::1' || (isIPv4(address) && address.startsWith('127.'));
}

/** What connections of one peer have in common; null if they are not counted together. */
function keyOf({ certificateFingerprint, address }: Peer): string | null {
  if (certificateFingerprint !== null) return certificateFingerprint;
  // Behind a plain loopback connection may be a whole ward: an interface program on the same machine.
  return isLoopback(address) ? null : address;
}

/** Counts the open connections of each peer: by certificate, without one by address. */
export class PeerLimit {
  readonly #maxConnectionsPerPeer: number;
  readonly #open = new Map<string, number>();

  constructor(maxConnectionsPerPeer: number) {
    this.#maxConnectionsPerPeer = maxConnectionsPerPeer;
  }

  /** False if the peer has as many connections as it may. */
  admit(peer: Peer): boolean {
    const key = keyOf(peer);
    if (key === null) return true;
    const open = this.#open.get(key) ?? 0;
    if (open >= this.#maxConnectionsPerPeer) return false;
    this.#open.set(key, open + 1);
    return true;
  }

  /** Once for each connection that was admitted. */
  leave(peer: Peer): void {
    const key = keyOf(peer);
    if (key === null) return;
    const open = (this.#open.get(key) ?? 0) - 1;
    if (open > 0) this.#open.set(key, open);
    else this.#open.delete(key);
  }
}
