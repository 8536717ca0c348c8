/** What taking deliveries needs beyond the FHIR side: the intake, the pipeline, the directory of sources. */
import type { AmendmentRequest } from '../../deliveries/fhir-amendments.js';
import type { FhirIntake } from '../../compose/fhir-intake.js';
import type { Pipeline } from '../../pipeline.js';
import type { DecisionOutcome } from '../../store/decide-reading.js';
import type { ClockPair } from '../../store/device-clocks.js';
import type { Pool } from '../../store/pool.js';
import type { DirectorySource } from '../../store/source-directory.js';
import type { Envelope } from '../../store/submission-records.js';
import type { ToldId, ToldPart } from '../../store/told-devices.js';

export type DeliveryPipeline = Pick<Pipeline, 'receiveDelivery' | 'keepDelivery' | 'keepRefused'>;

export interface DeliveryServices {
  /** Not that of the readers: a hundred of them must not keep a critical value waiting. */
  readonly pool: Pool;
  readonly intake: FhirIntake;
  readonly pipeline: DeliveryPipeline;
  /** Null: there is no such source. */
  readonly sourceOf: (sourceKey: number) => Promise<DirectorySource | null>;
  readonly noteDevices: (parts: readonly ToldPart[]) => Promise<ToldId[]>;
  readonly noteClocks: (pairs: readonly ClockPair[]) => Promise<void>;
  readonly amend: (whole: Envelope, request: AmendmentRequest) => Promise<DecisionOutcome>;
}
