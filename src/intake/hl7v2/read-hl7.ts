import type { SourceProfile } from '../../vitals/source-profile.js';
import { checkHeader } from './check-header.js';
import type { Hl7Delivery } from './delivery.js';
import type { Hl7Fault } from './fault.js';
import { scopeOf } from './message-scope.js';
import type { Hl7Message } from './parse-message.js';
import { isAssociationOrder, readAssociations } from './read-associations.js';
import { readObservations } from './read-observations.js';
import { readPatientEvent } from './read-patient-event.js';

/**
 * Reads what a message says: readings, whose devices are, or what happened to a patient. It answers
 * whatever the message holds and never throws.
 *
 * Of a message whose header is refused, or of which a part could not be told, nothing is read: a lost
 * line may be the PID that the readings after it belong to. The faults then say so.
 * @param profile how the messages of its source are read
 */
export function readHl7(message: Hl7Message, profile: SourceProfile): Hl7Delivery {
  const check = checkHeader(message);
  if (check.kind !== 'accepted') {
    return nothing('faults' in check ? check.faults : []);
  }
  const grave = message.faults.filter(isGrave);
  if (grave.length > 0) return nothing(grave);
  const scope = scopeOf(message, check.header, profile);
  const { test } = scope;
  if (check.purpose === 'patient') return { test, ...readPatientEvent(message, scope) };
  const isAssociation =
    check.purpose === 'association' ||
    message.segments.some((segment) => segment.id === 'OBR' && isAssociationOrder(segment));
  if (isAssociation) return { test, ...readAssociations(message, scope) };
  return { test, ...readObservations(message, scope) };
}

function isGrave({ severity, location }: Hl7Fault): boolean {
  return severity !== 'W' && severity !== 'I' && location?.segment !== 'MSH';
}

function nothing(faults: readonly Hl7Fault[]): Hl7Delivery {
  return { kind: 'observations', test: false, sets: [], amendments: [], clockPairs: [], faults };
}
