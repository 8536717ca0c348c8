/** How and where it was measured: from the elements for that, and from the codes. */
import type { Observation } from 'fhir/r4.js';
import type { CodedSign } from '../../vitals/coded-sign.js';
import type { BodyPlace } from '../../vitals/codes.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import type { Method, Position, Vital } from '../../vitals/words.js';
import { extensionOf } from './extensions.js';
import type { Faults } from './fhir-fault.js';
import { readMethod, readPlace, readPosition } from './read-concepts.js';

export interface Circumstances {
  readonly method?: Method;
  readonly place: BodyPlace;
  readonly position?: Position;
  readonly doubts: readonly ReportDoubt[];
}

/** What the elements say. */
export function readCircumstances(
  observation: Observation,
  vital: Vital,
  faults: Faults,
): Circumstances {
  const { bodySite } = observation;
  const sentPosition = extensionOf(observation, 'position')?.valueCodeableConcept;
  const method = observation.method && readMethod(observation.method);
  const position = sentPosition && readPosition(sentPosition);
  const site = bodySite && readPlace(vital, bodySite);
  const unknown = [
    ...(observation.method !== undefined && method === undefined ? ['method'] : []),
    ...(bodySite !== undefined && site === undefined ? ['bodySite'] : []),
    ...(sentPosition !== undefined && position === undefined ? ['extension'] : []),
  ];
  for (const path of unknown) {
    faults.refuse(path, 'code-invalid', `${path} has no code that is known here.`);
  }
  return {
    ...(method !== undefined && { method }),
    ...(position !== undefined && { position }),
    place: site?.place ?? {},
    doubts: site?.clear === false ? ['site-unclear'] : [],
  };
}

/** With what the codes say, of the sign and of its parts; the elements come first. */
export function withCodes(told: Circumstances, signs: readonly CodedSign[]): Circumstances {
  const method = told.method ?? first(signs.map((sign) => sign.method));
  const site = told.place.site ?? first(signs.map((sign) => sign.site));
  const side = told.place.side ?? first(signs.map((sign) => sign.side));
  const differs = <T>(chosen: T, coded: readonly (T | undefined)[]): boolean =>
    coded.some((one) => one !== undefined && one !== chosen);
  const methods = differs(
    method,
    signs.map((sign) => sign.method),
  );
  const places =
    differs(
      site,
      signs.map((sign) => sign.site),
    ) ||
    differs(
      side,
      signs.map((sign) => sign.side),
    );
  return {
    ...told,
    ...(method !== undefined && { method }),
    place: { ...(site !== undefined && { site }), ...(side !== undefined && { side }) },
    doubts: [
      ...told.doubts,
      ...signs.flatMap((sign) => sign.doubts ?? []),
      ...(methods ? (['codes-disagree'] as const) : []),
      ...(places ? (['site-unclear'] as const) : []),
    ],
  };
}

function first<T>(list: readonly (T | undefined)[]): T | undefined {
  return list.find((one) => one !== undefined);
}
