/** What can be exported: one row a kind of thing whose rows the store can walk over. */
import { countExportWindow, readExportWindow } from '../../store/export-observations.js';
import type { ObservationWalk, Window } from '../../store/export-observations.js';
import { countPatientWindow, readPatientWindow } from '../../store/export-patients.js';
import type { PatientWalk } from '../../store/export-patients.js';
import type { ExportRecord, KeyRange } from '../../store/exports.js';
import type { Pool } from '../../store/pool.js';
import { toFhirJson } from '../fhir/fhir-json.js';
import { toPatient } from '../fhir/patient-answers.js';
import { readFilter } from '../fhir/read-filter.js';
import { renderShown } from '../fhir/render-derived.js';
import type { SearchContext } from '../fhir/search-parameter.js';
import { visibleOnly } from '../fhir/visibility.js';
import { renderInTurns } from '../fhir/turns.js';
import { zoneClock } from '../../vitals/zone-time.js';

/** A window of rows, its resources still to be rendered. */
export interface ExportPage extends Window {
  /** Each a resource as JSON, without a line feed. */
  readonly renderLines: () => Promise<string[]>;
}

/** One kind of thing as one export holds it, walked over by ranges of keys. */
export interface ExportWalk {
  /** How many resources stand in the first `size` rows of the range. */
  count(range: KeyRange, size: number): Promise<Window & { readonly resources: number }>;
  read(range: KeyRange, size: number): Promise<ExportPage>;
}

/** What walks are made from. */
export interface ExportSite extends Pick<SearchContext, 'siteMs' | 'baseUrl'> {
  readonly readers: Pool;
}

/** A row of {@link EXPORTABLE}. */
export interface Exportable {
  /** What the kept files of an export are called by; never changed. */
  readonly part: string;
  /** Several rows may be of one type. */
  readonly type: 'Observation' | 'Patient';
  /** It belongs to patients: exported at the level of Patient and Group too. */
  readonly ofPatients: boolean;
  /**
   * Reads a `_typeFilter` of its type; null: there are no filters for it.
   *
   * @throws HttpError 400 when it is no search of that type.
   */
  readonly checkFilter: ((filter: string, context: SearchContext) => void) | null;
  readonly walk: (site: ExportSite, record: ExportRecord) => ExportWalk;
}

/** The parameter that holds searches. */
const FILTER = '_typeFilter';

function checkFilter(filter: string, context: SearchContext): void {
  readFilter(filter, FILTER, context);
}

function observationWalk(
  over: ObservationWalk['over'],
  site: ExportSite,
  { asOfMs, selection }: ExportRecord,
): ExportWalk {
  const context = { ...site, nowMs: asOfMs };
  const asked = (selection.filters.Observation ?? []).map((one) =>
    readFilter(one, FILTER, context),
  );
  const { scopes } = selection;
  const visible = [...visibleOnly(scopes, 's'), ...visibleOnly(scopes, 'r')];
  const filters = asked.length === 0 && visible.length > 0 ? [[]] : asked;
  const walk: ObservationWalk = {
    ...{ ...selection, asOfMs, over },
    filters: filters.map((one) => [...one, ...visible]),
  };
  return {
    count: (range, size) => countExportWindow(site.readers, walk, range, size),
    read: async (range, size) => {
      const { rows, endKey } = await readExportWindow(site.readers, walk, range, size);
      const render = (row: (typeof rows)[number]): string => toFhirJson(renderShown(row));
      return { endKey, renderLines: () => renderInTurns(rows, render) };
    },
  };
}

function patientWalk(site: ExportSite, { asOfMs, selection }: ExportRecord): ExportWalk {
  const walk: PatientWalk = { ...selection, asOfMs };
  return {
    count: (range, size) => countPatientWindow(site.readers, walk, range, size),
    read: async (range, size) => {
      const { rows, endKey } = await readPatientWindow(site.readers, walk, range, size);
      const render = (row: (typeof rows)[number]): string => toFhirJson(toPatient(row));
      return { endKey, renderLines: () => renderInTurns(rows, render) };
    },
  };
}

/** In the order of the files: whom the Observations are of comes first. */
export const EXPORTABLE: readonly Exportable[] = [
  {
    part: 'patients',
    type: 'Patient',
    ofPatients: true,
    checkFilter: null,
    walk: patientWalk,
  },
  {
    part: 'observations',
    type: 'Observation',
    ofPatients: true,
    checkFilter,
    walk: (site, record) => observationWalk('readings', site, record),
  },
  {
    part: 'panels',
    type: 'Observation',
    ofPatients: true,
    checkFilter,
    walk: (site, record) => observationWalk('panels', site, record),
  },
];

/** The row of a kept part. @throws Error when a newer program has kept one that is not known here. */
export function exportableOf(part: string): Exportable {
  const found = EXPORTABLE.find((one) => one.part === part);
  if (found === undefined) throw new Error(`nothing exportable is called ${part}`);
  return found;
}

/** @param siteZone IANA name of the zone of times without an offset */
export function exportSiteOf(readers: Pool, publicUrl: string, siteZone: string): ExportSite {
  return { readers, baseUrl: `${publicUrl}/fhir`, siteMs: zoneClock(siteZone).firstMomentAt };
}
