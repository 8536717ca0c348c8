import { randomUUID } from 'node:crypto';
import type { Bundle, Observation, OperationOutcome, Patient } from 'fhir/r4.js';
import { readConfig } from '../config/config.js';
import { askJson, signIn } from '../demo/ask-gateway.js';
import { credentialsFileIn, readCredentials } from '../demo/demo-clients.js';
import type { DemoCredentials, DemoRole } from '../demo/demo-clients.js';
import { answerLines } from '../demo/print-answer.js';
import type { SetAnswer } from '../demo/print-answer.js';
import { observationsLines } from '../demo/print-observations.js';
import { StartError } from '../errors.js';
import { EXAMPLE_SET } from '../serve/sets/example-set.js';

const FHIR_JSON = { accept: 'application/fhir+json' };

/** The credentials of one demo client of the gateway that runs on this data folder. */
async function credentialsFor(
  dataDir: string,
): Promise<(role: DemoRole) => DemoCredentials[number]> {
  const credentials = await readCredentials(dataDir);
  return (role) => {
    const found = credentials?.find((one) => one.role === role);
    if (found !== undefined) return found;
    throw new StartError(
      `There are no demo credentials in ${credentialsFileIn(dataDir)}. They are written by “npm start” without DATABASE_URL; this command needs the same DATA_DIR.`,
    );
  };
}

async function send(
  baseUrl: string,
  sender: DemoCredentials[number],
  takenAt: string,
): Promise<SetAnswer> {
  return askJson(`${baseUrl}/sets`, {
    method: 'POST',
    headers: { ...(await signIn(baseUrl, sender)), 'content-type': 'application/json' },
    body: JSON.stringify({ ...EXAMPLE_SET, setId: randomUUID(), takenAt }),
  });
}

/** As a record would: the patient by number, then the patient's Observations of that moment. */
async function pull(
  baseUrl: string,
  record: DemoCredentials[number],
  takenAt: string,
): Promise<Bundle<Observation | OperationOutcome>> {
  const headers = { ...(await signIn(baseUrl, record)), ...FHIR_JSON };
  const { system, value } = EXAMPLE_SET.patient.identifier;
  const asked = new URLSearchParams({ identifier: `${system}|${value}` });
  const found = await askJson<Bundle<Patient>>(`${baseUrl}/fhir/Patient?${asked.toString()}`, {
    headers,
  });
  const patient = found.entry?.[0]?.resource?.id;
  if (patient === undefined) {
    throw new StartError(`The patient ${value} is not registered at ${baseUrl}.`);
  }
  const search = new URLSearchParams({ patient, date: takenAt });
  return askJson(`${baseUrl}/fhir/Observation?${search.toString()}`, { headers });
}

/** `npm run example`: sends the README's set to the running gateway and shows what becomes of it. */
async function main(): Promise<void> {
  const { dataDir, publicUrl, port } = readConfig(process.env);
  const baseUrl = publicUrl ?? `http://127.0.0.1:${port}`;
  const clientOf = await credentialsFor(dataDir);
  const takenAt = `${new Date().toISOString().slice(0, 19)}Z`;
  const answer = await send(baseUrl, clientOf('sender'), takenAt);
  const observations = await pull(baseUrl, clientOf('record'), takenAt);
  const lines = [
    `POST ${baseUrl}/sets: ${EXAMPLE_SET.readings.length} readings of patient ${EXAMPLE_SET.patient.identifier.value}, taken at ${takenAt}`,
    '',
    ...answerLines(answer),
    '',
    `What the record sees under ${baseUrl}/fhir/Observation`,
    ...observationsLines(observations),
  ];
  process.stdout.write(`${lines.join('\n')}\n`);
}

main().catch((error: unknown) => {
  if (!(error instanceof StartError)) throw error;
  process.stderr.write(`${error.message}\n`);
  process.exitCode = 1;
});
