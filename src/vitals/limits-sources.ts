/** Where limits come from. Each limit points at one of these, so that a finding can name its source. */

/**
 * How firm a source is. `proposed`: the figure is this gateway's, on the grounds named.
 * `from memory`: the document was not at hand when the figure was written down. `site`: the figure and
 * the document are the site's own.
 */
export type Standing = 'read' | 'secondary copy' | 'proposed' | 'from memory' | 'site';

export interface Source {
  readonly document: string;
  readonly section: string;
  /** Null: the document bears none, or it is not known. */
  readonly year: number | null;
  readonly standing: Standing;
}

/** A number and the source that it comes from. */
export interface Limit {
  readonly at: number;
  readonly source: Source;
}

const STANDING_TEXT: Readonly<Record<Standing, string>> = {
  read: '',
  'secondary copy': ' (seen in a secondary copy)',
  proposed: '; the figure is proposed',
  'from memory': ' (from memory, unconfirmed)',
  site: ' (set by this site)',
};

/** A source in one line, its standing said where it is not the document itself. */
export function sourceText({ document, section, year, standing }: Source): string {
  const dated = year === null ? `${document}, ${section}` : `${document}, ${section}, ${year}`;
  return dated + STANDING_TEXT[standing];
}

export const limit = (at: number, source: Source): Limit => ({ at, source });

const source = (
  document: string,
  section: string,
  year: number | null,
  standing: Standing = 'read',
): Source => ({ document, section, year, standing });

/** The same place, used as grounds for a figure that it does not print. */
export const proposedAfter = (grounds: Source): Source => ({ ...grounds, standing: 'proposed' });

// Adults

export const NEWS2 = source('National Early Warning Score (NEWS) 2, RCP London', 'Chart 1', 2017);
export const NICE_NG136 = source(
  'NICE NG136, Hypertension in adults',
  '1.1',
  2019,
  'secondary copy',
);
export const TEAM_CALLING = source(
  'Smith et al., review of single-parameter track and trigger systems',
  'supplementary table',
  2008,
  'proposed',
);
/** For figures without a document behind them. */
export const PROPOSED = source('Common practice', 'no source', null, 'proposed');
/** The figure itself is what is practised, and nobody says where it comes from. */
export const REFERENCE_PRACTICE = source('Common practice', 'no source', null);

// Children

export const FLEMING_PULSE = source(
  'Fleming et al., Lancet 377:1011',
  'heart rate, 1st and 99th centile',
  2011,
  'secondary copy',
);
export const FLEMING_BREATHING = source(
  'Fleming et al., Lancet 377:1011',
  'respiratory rate, 1st and 99th centile',
  2011,
  'from memory',
);
export const BEDSIDE_PEWS = source(
  'Bedside PEWS, Parshuram et al., Crit Care 13:R135',
  'Table 1',
  2009,
);
export const PALS_HYPOTENSION = source(
  'Pediatric Advanced Life Support, AHA',
  'definition of hypotension',
  2015,
  'secondary copy',
);
export const PALS_RANGE_YOUNG = source(
  'Pediatric Advanced Life Support, AHA',
  'normal blood pressure by age, birth to 5 years',
  2015,
  'secondary copy',
);
export const PALS_RANGE_OLDER = source(
  'Pediatric Advanced Life Support, AHA',
  'normal blood pressure by age, 6 to 15 years',
  2015,
  'from memory',
);
export const AAP_SCREENING = source(
  'AAP Clinical Practice Guideline, Pediatrics 140:e20171904',
  'Table 6',
  2017,
  'secondary copy',
);
export const WHO_NEWBORN_TEMPERATURE = source(
  'WHO, Thermal protection of the newborn, WHO/RHT/MSM/97.2',
  'definitions',
  1997,
  'secondary copy',
);
export const VERSMOLD = source('Versmold et al., Pediatrics 67:607', 'abstract', 1981);

// What can be a measurement at all

export const MIMIC_BENCHMARK = source(
  'MIMIC-III benchmark, Harutyunyan et al.',
  'variable_ranges.csv',
  2019,
);
export const MIMIC_CODE = source('MIMIC Code Repository', 'vitalsign.sql, commit 005b531', null);
export const RICU = source('ricu concept dictionary 0.6.3', 'commit c0efac7', null);
export const OHDSI = source('OHDSI data-quality thresholds', 'commit 27df598', 2022);
/** Temperatures logged in Celsius that were Fahrenheit: the commonest defect found. */
export const UNIT_TRAP = source('Genes et al. 2013 (PMC3881102)', 'abstract', 2013, 'proposed');
export const OXIMETER_RANGE = source('FDA 510(k) K212665 and K202173', 'pulse range', null);
export const CUFF_STANDARD = source(
  'IEC 80601-2-30',
  'limit of the cuff pressure',
  2018,
  'from memory',
);
export const ARTEFACT_RULE = source(
  'Salmasi et al. 2017, after Mascha et al. 2015',
  'artefact rule for arterial pressure',
  2017,
  'from memory',
);
export const PRESSURE_ARTEFACTS = source('PMC7015776', 'Table 1', null);

export const DEFINITION = source('By definition', 'parts of an arterial pressure', null);
export const KOROTKOFF = source(
  'Auscultation of blood pressure',
  'phase IV where the sounds go on to zero',
  null,
  'from memory',
);
export const WHOLE_NUMBERS = source(
  'Common practice',
  'rates, saturation and cuff pressures are read in whole numbers',
  null,
  'proposed',
);

// Agreement of two measurements

export const TOLERABLE_ERROR = source('AAMI/ESH/ISO universal standard', 'tolerable error', 2018);
export const OBSERVERS = source(
  'Edmonds et al., inter-observer variability of vital signs',
  'limits of agreement',
  2002,
);
export const OBSERVERS_BREATHING = source(
  'Edmonds et al., inter-observer variability of vital signs',
  'respiratory rate, limits of agreement',
  2002,
);
export const THERMOMETER_SITES = source(
  'Pecoraro et al., peripheral thermometry',
  'coefficients of reproducibility',
  2021,
  'proposed',
);
export const TWO_ARMS = source(
  'NICE NG136, Hypertension in adults',
  '1.2.1',
  2019,
  'secondary copy',
);
export const REPEATED_PRESSURES = source(
  'ESC/ESH Guidelines for the management of arterial hypertension',
  'office blood pressure measurement',
  2018,
  'secondary copy',
);
export const PULSE_DEFICIT = source(
  'Rajkumar et al., apical-radial pulse deficit',
  'traditional cut-off, counted for 60 s',
  2019,
);
export const ROOM_AIR = source('Composition of dry air', 'oxygen 20.9 %', null, 'proposed');
export const IRREGULAR_PULSE = source('NICE NG136, Hypertension in adults', '1.1.2', 2019);
export const MEAN_FRACTION = source('Grillo et al., J Hypertens', 'abstract', 2020, 'proposed');

// Who, when and in what form

export const REFERENCE_RANGE = source(
  'HL7 v3 ObservationInterpretation 4.0.0',
  'a code is told against the reference range',
  null,
);
export const PATIENT_IDENTIFICATION = source(
  'Joint Commission National Patient Safety Goal NPSG.01.01.01',
  'two patient identifiers',
  null,
  'from memory',
);
export const DEVICE_CLOCKS = source(
  'Pennsylvania Patient Safety Advisory 9:143, clocks of 1,700 devices',
  'mean error 24 min',
  2012,
  'proposed',
);
export const SUBMISSION_FORM = source(
  'Published contract of this gateway',
  'forms of a reading',
  null,
);
export const UCUM = source('Unified Code for Units of Measure (UCUM) 2.2', 'case sensitive', null);
export const CONFIRMATION = source(
  'Common practice',
  'a second measurement settles an improbable one',
  null,
  'proposed',
);
