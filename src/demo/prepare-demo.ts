/** Fills the embedded database with two wards, once, and leaves credentials for trying it out. */
import type { Pipeline, Sender } from '../pipeline.js';
import { readStatement } from '../serve/fhir/read-registration.js';
import type { ClientRecord } from '../store/clients.js';
import type { Pool } from '../store/pool.js';
import { registerPatient } from '../store/register-patient.js';
import {
  areCurrent,
  credentialsFileIn,
  readCredentials,
  registerDemoClients,
  writeCredentials,
} from './demo-clients.js';
import { FERNBANK, fernbankBefore } from './fernbank.js';
import { WARD, mrnOf, patientResource } from './ward.js';
import { weekBefore } from './week.js';
import type { ArrivingSet } from './week.js';

export interface DemoOptions {
  readonly pool: Pool;
  readonly dataDir: string;
  /** A pipeline whose times of receipt come from this clock (ms since the epoch). */
  readonly pipelineAt: (clock: () => number) => Pipeline;
}

/**
 * The credentials file is written last, so that it stands for both wards whole: without it, or with one
 * that speaks of another database, everything is done again. Nothing is there twice then, because ids,
 * values and times follow from the moment at which the first client was registered.
 */
export async function prepareDemo({
  pool,
  dataDir,
  pipelineAt,
}: DemoOptions): Promise<{ readonly credentialsFile: string }> {
  const credentialsFile = credentialsFileIn(dataDir);
  if (await areCurrent(pool, await readCredentials(dataDir))) return { credentialsFile };
  const { credentials, sender, monitor, admin } = await registerDemoClients(pool);
  const nowMs = sender.createdAtMs;
  await registerWards(pool, admin.clientKey, nowMs);
  await sendSets(pipelineAt, [...fernbankBefore(nowMs), ...weekBefore(nowMs)], {
    ward: senderOf(sender),
    monitor: senderOf(monitor),
  });
  await writeCredentials(dataDir, credentials);
  return { credentialsFile };
}

async function registerWards(pool: Pool, clientKey: number, nowMs: number): Promise<void> {
  for (const patient of [...WARD, ...FERNBANK]) {
    const statement = readStatement(patientResource(patient, nowMs), [mrnOf(patient.mrn)]);
    await registerPatient(pool, { ...statement, expectedVersion: null, clientKey });
  }
}

/** All at once, so that the group commit takes many together; the pipeline reads its clock on receipt. */
async function sendSets(
  pipelineAt: DemoOptions['pipelineAt'],
  sets: readonly ArrivingSet[],
  senders: Readonly<Record<ArrivingSet['from'], Sender>>,
): Promise<void> {
  let receivedAtMs = 0;
  const pipeline = pipelineAt(() => receivedAtMs);
  await Promise.all(
    sets.map((arriving) => {
      ({ receivedAtMs } = arriving);
      const body = Buffer.from(JSON.stringify(arriving.set));
      return pipeline.receiveSet(senders[arriving.from], body, 'application/json');
    }),
  );
}

function senderOf(client: ClientRecord): Sender {
  return { ...client, person: null };
}
