/** The FHIR side of the intake as `serve` is given it: pure functions, and the words they share. */
import { describeElements } from '../intake/fhir/observation-elements.js';
import { questionsOf, readDelivery } from '../intake/fhir/read-delivery.js';
import { readExactJson } from '../intake/fhir/read-exact-json.js';

export type { Delivery, EntryFate } from '../intake/fhir/delivery.js';
export type { FhirFault } from '../intake/fhir/fhir-fault.js';
export type { Digits, ExactJson } from '../intake/fhir/read-exact-json.js';
export type { KnownDevice, Questions, Register } from '../intake/fhir/register.js';
export type { SentEntry, Surroundings } from '../intake/fhir/sent-entry.js';

export const fhirIntake = { readExactJson, questionsOf, readDelivery, describeElements };
export type FhirIntake = typeof fhirIntake;
