/** Whose devices are, as association messages say (IHE Point-of-Care Identity Management). */
import type { AssociationNews } from '../intake/hl7v2/delivery.js';
import { associate, disassociate } from '../store/associations.js';
import type {
  AssociationOutcome,
  CompareIdentity,
  DisassociationOutcome,
} from '../store/associations.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';

export interface AssociatingServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly compareIdentity: CompareIdentity;
}

type Outcome = AssociationOutcome['outcome'] | DisassociationOutcome['outcome'];

/**
 * Carries the news out in their order; resolves with why the first that could not be was not, in a
 * sentence without a patient's data, or null. What nobody has validated waits for a person.
 */
export async function applyAssociations(
  services: AssociatingServices,
  news: readonly AssociationNews[],
  submissionId: string,
  nowMs: number,
): Promise<string | null> {
  let fault: string | null = null;
  for (const one of news) {
    const found = one.validated
      ? FAULTS[await carryOut(services, one, submissionId, nowMs)]
      : 'The association is not validated: a person must confirm it.';
    if (found !== undefined) fault ??= `${one.at}: ${found}`;
  }
  return fault;
}

async function carryOut(
  { pool, names, compareIdentity }: AssociatingServices,
  { kind, device, patient, time }: AssociationNews,
  submissionId: string,
  nowMs: number,
): Promise<Outcome | 'patient-doubted'> {
  const by = { origin: 'message', submissionId } as const;
  const atMs = Date.parse(time);
  if (kind === 'disassociate') {
    const identifier = patient?.identifier ?? null;
    return (await disassociate(pool, names, { device, patient: identifier, atMs, by })).outcome;
  }
  if (patient === null || (patient.doubts ?? []).length > 0) return 'patient-doubted';
  const request = { device, patient, fromMs: atMs, by, nowMs };
  return (await associate(pool, names, compareIdentity, request)).outcome;
}

/** Undefined: it was carried out, or was so already. */
const FAULTS: Readonly<Partial<Record<Outcome | 'patient-doubted', string>>> = {
  taken: 'The device is another patient’s at that time.',
  'device-disabled': 'The device is disabled here.',
  'patient-unknown': 'The patient is not registered here.',
  'patient-doubted': 'It is in doubt who the patient is.',
  'second-identifier-missing': 'A second identifier is needed that the register confirms.',
  'second-identifier-differs': 'The second identifier differs from the register.',
  'not-associated': 'The device is nobody’s at that time.',
  'another-patient': 'The device is another patient’s at that time.',
};
