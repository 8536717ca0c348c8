import { deflateRawSync, inflateRawSync } from 'node:zlib';

/**
 * Small windows and tables: what is kept is a kilobyte or two, and setting up the large ones takes
 * longer than the compression itself (measured 12 against 27 µs a set, same size).
 */
const SMALL = { level: 6, windowBits: 12, memLevel: 5, chunkSize: 1024 } as const;

/** Larger than any submission or answer, so that a damaged row cannot fill the memory. */
const MAX_BYTES = 64 * 1024 * 1024;

/** Bytes as the store keeps them (raw deflate, RFC 1951), in the form of a `bytea` literal. */
export function packBytes(bytes: Buffer): string {
  return `\\x${deflateRawSync(bytes, SMALL).toString('hex')}`;
}

/** Room for what is usually kept; the default of 16 KiB a call would be thrown away unused. */
const CHUNK_BYTES = 4096;

/** The bytes that were kept. */
export function unpackBytes(kept: Buffer): Buffer {
  return inflateRawSync(kept, { maxOutputLength: MAX_BYTES, chunkSize: CHUNK_BYTES });
}
