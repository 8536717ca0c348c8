/**
 * Frames of the Minimal Lower Layer Protocol (HL7 v3 Transport Specification: MLLP, Release 2):
 * start block, data, end block, carriage return. Data never hold a block byte; what seems to is two frames.
 */

/** The longest frame that is taken: 1 MiB. */
export const MAX_FRAME_BYTES = 1024 * 1024;

const START_BLOCK = 0x0b;
const END_BLOCK = 0x1c;
const CARRIAGE_RETURN = 0x0d;

const EMPTY = Buffer.alloc(0);
const FRAME_HEAD = Buffer.of(START_BLOCK);
const FRAME_TAIL = Buffer.of(END_BLOCK, CARRIAGE_RETURN);

/**
 * Why a frame that had begun is thrown away: another start block came before its end; its end block had no
 * carriage return; it passed the limit; nothing more came (connection closed, or time-out).
 */
export type DiscardReason = 'cut-by-start-block' | 'end-block-alone' | 'too-long' | 'unfinished';

export interface WholeFrame {
  readonly kind: 'frame';
  /** The data without start block, end block and carriage return. May be empty. */
  readonly bytes: Buffer;
}

export interface DiscardedFrame {
  readonly kind: 'discarded';
  readonly reason: DiscardReason;
  /** What had come of the data; of a frame that is too long, as much as the limit. May be empty. */
  readonly bytes: Buffer;
}

/**
 * Cuts a stream of bytes into frames, however the stream is chunked. A frame that is not ended as it should
 * be is thrown away and never joined to the next one: their readings may be of two patients.
 */
export class Framer {
  readonly #maxFrameBytes: number;
  #state: 'outside' | 'inside' | 'ending' = 'outside';
  #kept = EMPTY;
  #keptBytes = 0;
  #junkBytes = 0;

  constructor(maxFrameBytes = MAX_FRAME_BYTES) {
    this.#maxFrameBytes = maxFrameBytes;
  }

  /** A frame has begun and is not at its end. */
  get isMidFrame(): boolean {
    return this.#state !== 'outside';
  }

  /** Bytes so far that belong to no frame; what follows a frame that was thrown away is among them. */
  get junkBytes(): number {
    return this.#junkBytes;
  }

  /**
   * What the next bytes of the stream complete, one after the other as the caller asks, so that a chunk of
   * many frames needs no queue. A chunk must be read to its end before the next one is given.
   */
  *feed(chunk: Buffer): Generator<WholeFrame | DiscardedFrame, void, undefined> {
    let at = 0;
    while (at < chunk.length) {
      if (this.#state === 'outside') {
        at = this.#passJunk(chunk, at);
      } else if (this.#state === 'inside') {
        const end = findBlockByte(chunk, at);
        const room = this.#maxFrameBytes - this.#keptBytes;
        this.#keep(chunk.subarray(at, Math.min(end, at + room)));
        if (end - at > room) {
          at += room;
          yield this.#discard('too-long');
        } else if (end === chunk.length) {
          at = end;
        } else if (chunk[end] === END_BLOCK) {
          at = end + 1;
          this.#state = 'ending';
        } else {
          at = end;
          yield this.#discard('cut-by-start-block');
        }
      } else if (chunk[at] === CARRIAGE_RETURN) {
        at += 1;
        yield { kind: 'frame', bytes: this.#release() };
      } else {
        yield this.#discard('end-block-alone');
      }
    }
  }

  /** Nothing more will come: gives back the frame that has no end, if one had begun. */
  end(): DiscardedFrame | undefined {
    return this.isMidFrame ? this.#discard('unfinished') : undefined;
  }

  /** The place after the next start block, or the end of the chunk. */
  #passJunk(chunk: Buffer, from: number): number {
    const start = chunk.indexOf(START_BLOCK, from);
    this.#junkBytes += (start === -1 ? chunk.length : start) - from;
    if (start === -1) return chunk.length;
    this.#state = 'inside';
    return start + 1;
  }

  /**
   * Copies, because a slice would hold on to the whole chunk; the room doubles, so that a frame which comes
   * byte by byte is not copied anew for each.
   */
  #keep(bytes: Buffer): void {
    const needed = this.#keptBytes + bytes.length;
    if (needed > this.#kept.length) {
      const grown = Math.min(this.#maxFrameBytes, Math.max(needed, 2 * this.#kept.length));
      const room = Buffer.allocUnsafe(grown);
      this.#kept.copy(room, 0, 0, this.#keptBytes);
      this.#kept = room;
    }
    bytes.copy(this.#kept, this.#keptBytes);
    this.#keptBytes = needed;
  }

  #release(): Buffer {
    const bytes = this.#kept.subarray(0, this.#keptBytes);
    this.#state = 'outside';
    this.#kept = EMPTY;
    this.#keptBytes = 0;
    return bytes;
  }

  #discard(reason: DiscardReason): DiscardedFrame {
    return { kind: 'discarded', reason, bytes: this.#release() };
  }
}

function findBlockByte(chunk: Buffer, from: number): number {
  let at = from;
  while (at < chunk.length && chunk[at] !== START_BLOCK && chunk[at] !== END_BLOCK) at += 1;
  return at;
}

/**
 * Puts data into a frame.
 * Throws a RangeError if they hold a start or end block: the reader would see other frames than were meant.
 */
export function wrapFrame(data: Buffer): Buffer {
  if (findBlockByte(data, 0) < data.length) {
    throw new RangeError('a message with a start or end block in it cannot be framed');
  }
  return Buffer.concat([FRAME_HEAD, data, FRAME_TAIL]);
}
