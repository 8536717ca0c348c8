/** What the FHIR side needs to take Observations in, put together. */
import { amendReading } from '../deliveries/fhir-amendments.js';
import type { AmendmentServices } from '../deliveries/fhir-amendments.js';
import { fhirIntake } from './fhir-intake.js';
import type { DeliveryPipeline, DeliveryServices } from '../serve/fhir/delivery-services.js';
import { noteDeviceClocks } from '../store/device-clocks.js';
import type { SourceDirectory } from '../store/source-directory.js';
import { noteToldDevices } from '../store/told-devices.js';

export interface DeliveryParts extends AmendmentServices {
  readonly pipeline: DeliveryPipeline;
  readonly sources: SourceDirectory;
  /** ms since the epoch. */
  readonly clock: () => number;
}

export function deliveryServices(parts: DeliveryParts): DeliveryServices {
  const { pool, names, pipeline, sources, clock } = parts;
  return {
    intake: fhirIntake,
    pool,
    pipeline,
    sourceOf: (sourceKey) => sources.findSource(sourceKey),
    noteDevices: (told) => noteToldDevices(pool, names, told, clock()),
    noteClocks: (pairs) => noteDeviceClocks(pool, names, pairs, clock()),
    amend: (whole, request) => amendReading(parts, whole, request),
  };
}
