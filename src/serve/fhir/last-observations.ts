/** The operation `$lastn` of Observation (OperationDefinition Observation-lastn, FHIR R4 4.0.1). */
import type { Request } from 'express';
import { countHeldReadings, findLatest } from '../../store/search-observations.js';
import type { ObservationCondition } from '../../store/observation-conditions.js';
import type { Caller } from '../http/route.js';
import { bundleText, outcomeEntry } from './bundle.js';
import type { FhirAnswer } from './fhir-handler.js';
import { includeEntries, leftOut, wanted } from './includes.js';
import { handlingOf } from './negotiate.js';
import {
  OBSERVATION_OFFER,
  observationEntry,
  patientsSeen,
  placesIn,
  suppressed,
} from './observation-answers.js';
import { OBSERVATION_INCLUDES } from './observation-includes.js';
import { pageLinks } from './paging.js';
import { parseSearch } from './parse-search.js';
import type { ParsedSearch } from './parse-search.js';
import { passedOver } from './passed-over.js';
import type { Pair } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import { momentOf } from './search.js';
import { OBSERVATION_PARAMETERS } from './search-parameters.js';
import type { FhirSite } from './site.js';
import { renderInTurns } from './turns.js';

const MAX = 'max';
/** The answer comes in one piece. */
const MAX_ENTRIES = 5000;
const CODE_PARAMETERS = ['category', 'code', 'combo-code', 'component-code'];

export async function lastObservations(
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const { pool, baseUrl, siteMs } = site;
  const others = pairs.filter(([name]) => name !== MAX);
  const moment = await momentOf(pool, []);
  const { asOfMs } = moment;
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const handling = handlingOf(req.headers);
  const search = parseSearch(others, OBSERVATION_PARAMETERS, handling, context, OBSERVATION_OFFER);
  const max = readMax(pairs.filter(([name]) => name === MAX));
  checkDemands(search, others);
  const { conditions } = search;
  const found = await findLatest(pool, { ...moment, conditions }, { max, limit: MAX_ENTRIES + 1 });
  if (found.length > MAX_ENTRIES) {
    throw refusal(400, 'too-costly', `More than ${MAX_ENTRIES} Observations would be answered.`);
  }
  const includes = wanted(OBSERVATION_INCLUDES, search.includes);
  const used: Pair[] = [...search.used, ...(max === 1 ? [] : [[MAX, String(max)] as const])];
  const entries = await renderInTurns(found, (one) => observationEntry(baseUrl, one, search.shape));
  const links = pageLinks(`${baseUrl}/Observation/$lastn`, used, null, null);
  const included = await includeEntries(site, includes, found, placesIn(found), asOfMs, scopes);
  const outcome = outcomeEntry([
    suppressed(await countHeldReadings(pool, { conditions, asOfMs })),
    ...leftOut(includes, scopes),
    ...search.ignored.map(passedOver),
  ]);
  const text = bundleText({
    type: 'searchset',
    total: found.length,
    links,
    entries: [...entries, ...included, outcome],
  });
  return { status: 200, text, looked: { patientIds: patientsSeen(conditions, found) } };
}

function readMax(given: readonly Pair[]): number {
  const [first, ...more] = given;
  if (first === undefined) return 1;
  if (more.length > 0 || !/^[1-9]\d{0,8}$/.test(first[1])) {
    throw badValue(MAX, 'is a whole number from 1 up, once');
  }
  return Number(first[1]);
}

/** The definition wants a patient, and a category or a code; pages and sorts are none of it. */
function checkDemands(
  { conditions, sort, page, countOnly }: ParsedSearch<ObservationCondition>,
  pairs: readonly Pair[],
): void {
  if (sort !== null || page !== null || countOnly || pairs.some(([name]) => name === '_count')) {
    const text = '$lastn answers in one piece, newest first: it takes no _sort, _count or page.';
    throw refusal(400, 'not-supported', text);
  }
  if (!conditions.some(({ on }) => on === 'patient' || on === 'patient-named')) {
    throw refusal(400, 'required', '$lastn asks for a patient or subject.', 'http.patient');
  }
  if (!pairs.some(([name]) => CODE_PARAMETERS.includes(name))) {
    throw refusal(400, 'required', '$lastn asks for a category or a code.', 'http.code');
  }
}
