import { readFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';

/** Whether the system knows a process with this id that we may signal, be it ended or not. */
export function isKnown(pid: number): boolean {
  return signal(pid, 0);
}

/** Whether such a process runs. An orphan that nobody reaps stays known after its end. */
export function isAlive(pid: number): boolean {
  return isKnown(pid) && !isZombie(pid);
}

function isZombie(pid: number): boolean {
  try {
    // proc(5): the state follows the name, which stands in brackets and may hold any character.
    return /\) [ZX] [^)]*$/.test(readFileSync(`/proc/${pid}/stat`, 'utf8'));
  } catch {
    return false; // There is no /proc here.
  }
}

/** Ends a database server: sessions are cut, everything is written. After 20 s without a checkpoint. */
export async function endServer(pid: number): Promise<void> {
  signal(pid, 'SIGINT');
  if (await isGone(pid, 20_000)) return;
  signal(pid, 'SIGQUIT');
  await isGone(pid, 5_000);
}

function signal(pid: number, name: NodeJS.Signals | 0): boolean {
  try {
    return process.kill(pid, name);
  } catch {
    return false; // There is no such process, or it is another user's.
  }
}

async function isGone(pid: number, timeoutMs: number): Promise<boolean> {
  const deadline = Date.now() + timeoutMs;
  while (isAlive(pid)) {
    if (Date.now() > deadline) return false;
    await sleep(20);
  }
  return true;
}
