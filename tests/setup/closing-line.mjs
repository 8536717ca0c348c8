import { writeSync } from 'node:fs';

/** Ends every test run with one plain line that a program can read: “N passed, N failed”. */
export default class ClosingLine {
  onRunComplete(_contexts, results) {
    // A file that could not even be loaded has no failed tests, and must not pass for none failed.
    const failed = results.numFailedTests + results.numRuntimeErrorTestSuites;
    const line = `${results.numPassedTests} passed, ${failed} failed\n`;
    // The runner's own summary comes after all reporters.
    process.once('exit', () => writeSync(process.stdout.fd, line));
  }
}
