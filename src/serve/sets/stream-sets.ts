import type { Request, Response } from 'express';
import type { Sender } from '../../pipeline.js';
import { problemBody } from '../../problem.js';
import { toHttpError } from '../http/render-error.js';
import type { SetPipeline } from './pipeline-port.js';
import { splitLines } from './split-lines.js';
import type { Line } from './split-lines.js';

export const NDJSON = 'application/x-ndjson';
const LIMITS = { maxLineBytes: 256 * 1024, maxBodyBytes: 16 * 1024 * 1024 };
/** Sets of one body at work at a time: enough to fill a group commit, few enough to leave room for others. */
const MAX_IN_FLIGHT = 64;

/** What a stream tells besides its answers. */
export interface StreamEvents {
  countRefusedLine(status: number): void;
  /** A line failed for a reason that only the log may tell. */
  logFailure(error: unknown): void;
}

/** `{ "status": …, "body": … }` around a body that is JSON already. */
function answerLine(status: number, body: Buffer): Buffer {
  return Buffer.concat([Buffer.from(`{"status":${status},"body":`), body, Buffer.from('}\n')]);
}

function tooLong(detail: string): Buffer {
  return answerLine(413, problemBody({ status: 413, detail }));
}

/** The answer to one line; whatever fails costs this line only. */
async function judgeLine(
  line: Line,
  pipeline: SetPipeline,
  sender: Sender,
  events: StreamEvents,
): Promise<Buffer> {
  if (line.kind !== 'line') {
    events.countRefusedLine(413);
    return line.kind === 'line-too-long'
      ? tooLong('This line is larger than 256 KiB; the lines after it were read.')
      : tooLong('The body is larger than 16 MiB; nothing from this line on was read.');
  }
  try {
    const { status, body } = await pipeline.receiveSet(sender, line.bytes, NDJSON);
    return answerLine(status, body);
  } catch (error) {
    const { status, message } = toHttpError(error);
    events.countRefusedLine(status);
    if (status === 500) events.logFailure(error);
    return answerLine(status, problemBody({ status, detail: message }));
  }
}

/** Writes and waits until the client has taken enough of it; a client that is gone is not waited for. */
async function write(res: Response, bytes: Buffer): Promise<void> {
  if (res.destroyed || res.write(bytes)) return;
  await new Promise<void>((resolve) => {
    const goOn = (): void => {
      res.off('drain', goOn).off('close', goOn);
      resolve();
    };
    res.on('drain', goOn).on('close', goOn);
  });
}

/**
 * `POST /sets` with NDJSON: a set a line, read as it streams, answered in order as each is committed.
 * Lines are read no faster than their answers are taken. A client that goes away stops the reading;
 * lines that are already at work are finished.
 */
export async function streamSets(
  req: Request,
  res: Response,
  sender: Sender,
  pipeline: SetPipeline,
  events: StreamEvents,
): Promise<void> {
  res.status(200).setHeader('Content-Type', NDJSON);
  res.flushHeaders();
  const written: Promise<void>[] = [];
  let last = Promise.resolve();
  try {
    // The request must outlive the last line that is read: its answers still have to go out.
    const body = req.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>;
    for await (const line of splitLines(body, LIMITS)) {
      const answer = judgeLine(line, pipeline, sender, events);
      last = last.then(async () => write(res, await answer));
      written.push(last);
      if (written.length >= MAX_IN_FLIGHT) await written.shift();
    }
  } catch {
    // Nothing but the request itself fails here: its client is gone.
  }
  await last;
  res.end();
  // What a body has beyond its limit is let through unread, or its client would wait for us to take it.
  req.resume();
}
