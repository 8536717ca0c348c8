/** The form of a decision as the contract has decisions. What is wrong in it the contract says. */
import { CATALOGUE } from '../../../vitals/catalogue.js';
import type { ReadingVersion } from '../../../vitals/shapes.js';
import { PARTS } from '../../../vitals/words.js';
import { writeOffset } from '../../pages/parts/moment.js';
import type { DecisionBody } from './send-decision.js';

type Members = Record<string, unknown>;

function given(form: URLSearchParams, names: readonly string[]): Members {
  return Object.fromEntries(
    names.flatMap((name) => {
      const text = form.get(name)?.trim() ?? '';
      return text === '' ? [] : [[name, text]];
    }),
  );
}

/** Circumstances that the form does not ask for are those of the reading as it stands. */
function circumstancesOf({ context, device, note }: ReadingVersion): Members {
  return {
    ...context,
    ...(device !== null && { device: { identifier: device } }),
    ...(note !== null && { note }),
  };
}

function readReading(form: URLSearchParams, version: ReadingVersion): Members {
  const { vital, takenAt } = version;
  const numbers = given(form, PARTS);
  const isCode = CATALOGUE[vital].form === 'code';
  return {
    ...circumstancesOf(version),
    vital,
    takenAt: writeOffset(takenAt.epochMs, takenAt.offsetMinutes),
    ...given(form, ['method', 'site', 'side', 'position']),
    ...(isCode ? given(form, ['code']) : { ...numbers, ...given(form, ['unit']) }),
  };
}

function readPatient(form: URLSearchParams): Members | null {
  const {
    patientSystem: system,
    patientValue: value,
    patientBorn: birthDate,
  } = given(form, ['patientSystem', 'patientValue', 'patientBorn']);
  if (value === undefined) return null;
  return { identifier: { system, value }, ...(birthDate !== undefined && { birthDate }) };
}

export function readDecision(form: URLSearchParams, version: ReadingVersion): DecisionBody {
  const action = form.get('action') ?? '';
  const patient = readPatient(form);
  const takesPatient = action === 'correct' || action === 'assign';
  return {
    action,
    reason: form.get('reason') ?? '',
    reasonCode: form.get('reasonCode') ?? '',
    expectedVersion: Number(form.get('expectedVersion') ?? 'NaN'),
    ...(action === 'correct' && { reading: readReading(form, version) }),
    ...(takesPatient && patient !== null && { patient }),
  };
}
