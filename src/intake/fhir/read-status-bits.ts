/** Status that a device tells beside its readings (MDC bit fields): every bit that is set doubts a signal. */
import type { Observation } from 'fhir/r4.js';
import type { Method, Vital } from '../../vitals/words.js';
import type { ContextKind } from '../../vitals/coded-sign.js';

/** The readings that such a status is about: signs, and how they are measured. */
const ABOUT: Readonly<Partial<Record<ContextKind, Pick<StatusBits, 'vitals' | 'method'>>>> = {
  'oximeter-status': {
    vitals: ['oxygen-saturation', 'pulse-rate', 'respiratory-rate'],
    method: 'pulse-oximetry',
  },
  'cuff-status': { vitals: ['blood-pressure', 'pulse-rate'], method: 'oscillometry' },
};

export interface StatusBits {
  readonly vitals: readonly Vital[];
  readonly method: Method;
  /** Some bit is set. */
  readonly doubtful: boolean;
}

/** Undefined: it is another kind of Observation. */
export function readStatusBits(
  context: ContextKind,
  { component = [] }: Observation,
): StatusBits | undefined {
  const about = ABOUT[context];
  if (about === undefined) return undefined;
  return { ...about, doubtful: component.some(({ valueBoolean }) => valueBoolean === true) };
}

/** Whether the status is about this reading, of the same device and time. */
export function isAbout(
  { vitals, method }: StatusBits,
  reading: { readonly vital: Vital; readonly method?: Method },
): boolean {
  return (
    vitals.includes(reading.vital) && (reading.method === undefined || reading.method === method)
  );
}
