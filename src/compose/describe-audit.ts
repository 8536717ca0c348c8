import type { AuditReport } from '../store/verify-chains.js';

function counted(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** What was proved, in plain sentences; none of it is a fault. */
export function describeReport(report: AuditReport): string {
  const { entries, sealedSegments, openSegments, clearedSegments, found, waiting, lost } = report;
  const sentences = [
    `The audit trail is whole: ${counted(entries, 'entry', 'entries')} in ${counted(sealedSegments, 'sealed minute')}` +
      ` and ${counted(openSegments, 'minute')} not sealed yet.`,
  ];
  if (clearedSegments > 0) {
    sentences.push(`Retention has cleared ${counted(clearedSegments, 'minute')}.`);
  }
  if (found > 0) {
    sentences.push(
      `${counted(found, 'entry was', 'entries were')} chained as found, after a process was killed or a commit was in doubt: nobody vouches for what they said before.`,
    );
  }
  if (waiting > 0) {
    sentences.push(
      `${counted(waiting, 'entry waits', 'entries wait')} to be chained by the next process that runs, because their own was killed.`,
    );
  }
  for (const { writerId, seen } of lost) {
    sentences.push(
      `Process ${writerId} was killed after ${seen}: reads and searches of its last second may not be on record.`,
    );
  }
  return sentences.join('\n');
}
