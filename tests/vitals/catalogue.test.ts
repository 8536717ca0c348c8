import { CATALOGUE, codingsOf, type CatalogueRow } from '../../src/vitals/catalogue.js';
import {
  LOINC_SYSTEM,
  MDC_SYSTEM,
  SNOMED_SYSTEM,
  consciousnessConcept,
  methodConcept,
  positionConcept,
  siteConcept,
  type Coding,
} from '../../src/vitals/codes.js';
import {
  CONSCIOUSNESS_CODES,
  METHODS,
  POSITIONS,
  SIDES,
  SITES,
  VITALS,
  type Method,
  type Site,
} from '../../src/vitals/words.js';
import { loincCheckDigitFits, snomedCheckDigitFits } from './check-digits.js';

const R4 = 'http://hl7.org/fhir/StructureDefinition/';
const US_CORE = 'http://hl7.org/fhir/us/core/StructureDefinition/';

/** Every coding of a row under every method and site, and those of its parts. */
function allCodings(row: CatalogueRow): readonly Coding[] {
  const of = ({ codings, specific }: Pick<CatalogueRow, 'codings' | 'specific'>): Coding[] => [
    ...codings,
    ...specific.map(({ coding }) => coding),
  ];
  return [...of(row), ...row.parts.flatMap(of)];
}

function codesOf(
  vital: keyof typeof CATALOGUE,
  method: Method | null,
  site: Site | null,
): string[] {
  return codingsOf(CATALOGUE[vital], method, site).map(({ code }) => code);
}

describe('required codes, units and profiles', () => {
  /** FHIR R4 4.0.1, vital signs table (§10.1.19), and US Core 9.0.0 profiles of the same signs. */
  it.each([
    ['respiratory-rate', '9279-1', '/min', 'resprate', 'us-core-respiratory-rate'],
    ['pulse-rate', '8867-4', '/min', 'heartrate', 'us-core-heart-rate'],
    ['oxygen-saturation', '2708-6', '%', 'oxygensat', 'us-core-pulse-oximetry'],
    ['blood-pressure', '85354-9', 'mm[Hg]', 'bp', 'us-core-blood-pressure'],
    ['body-temperature', '8310-5', 'Cel', 'bodytemp', 'us-core-body-temperature'],
    ['body-height', '8302-2', 'cm', 'bodyheight', 'us-core-body-height'],
    ['body-weight', '29463-7', 'kg', 'bodyweight', 'us-core-body-weight'],
  ] as const)('%s stands first as %s in %s', (vital, code, unit, profile, usCoreProfile) => {
    const row = CATALOGUE[vital];
    expect(row.codings[0]).toMatchObject({ system: LOINC_SYSTEM, code });
    expect(row.unit).toBe(unit);
    expect(row.profile).toBe(`${R4}${profile}`);
    expect(row.usCoreProfile).toBe(`${US_CORE}${usCoreProfile}`);
  });

  it('has the components of the R4 pressure profile, and the mean that it lets be', () => {
    const codes = CATALOGUE['blood-pressure'].parts.map(({ codings }) => codings[0]?.code);
    expect(codes).toEqual(['8480-6', '8462-4', '8478-0']);
  });

  it('has both codes that US Core requires of a saturation, also without a method', () => {
    expect(codesOf('oxygen-saturation', null, null)).toEqual(['2708-6', '59408-5']);
  });

  /** US Core 9.0.0 pulse oximetry: components FlowRate and Concentration. */
  it('codes oxygen given as US Core does', () => {
    expect(codesOf('oxygen-flow', null, null)).toEqual(['3151-8']);
    expect(codesOf('inspired-oxygen', null, null)).toEqual(['3150-0']);
  });
});

describe('codes that would draw a reading into a wrong profile', () => {
  /** LOINC codes by which the HL7 reference validator (ObservationValidator) picks an R4 profile. */
  const TRIGGERS: Readonly<Record<string, readonly string[]>> = {
    resprate: '9279-1 76170-0 76172-6 76171-8 19840-8 33438-3 76270-8 11291-2'.split(' '),
    heartrate: (
      '8867-4 8889-8 8890-6 8891-4 8892-2 8893-0 8886-4 40443-4 55425-3 60978-4 68999-2 69000-8 ' +
      '73795-7 73799-9 76476-1 76477-9 11328-2'
    ).split(' '),
    oxygensat:
      '2708-6 59408-5 20564-1 19224-5 2709-4 2710-2 2711-0 2713-6 51733-4 59417-6 89276-0 97549-0'.split(
        ' ',
      ),
    bodytemp: (
      '8310-5 8328-7 8329-5 8330-3 8331-1 8332-9 8333-7 8334-5 8309-7 60834-9 60835-6 60836-4 ' +
      '60838-0 60955-2 61009-7 75539-7 75987-8 76010-8 76011-6 76278-1 91371-5 98657-0 98663-8'
    ).split(' '),
    bp: '85354-9 35094-2 55284-4 8480-6 8459-0 76534-7'.split(' '),
    bodyheight: '8302-2 3137-7 3138-5 8306-3 8308-9'.split(' '),
    bodyweight: '29463-7 3141-9 3142-7 75292-3 79348-9 8350-1 8351-9'.split(' '),
  };

  it.each(VITALS)('%s triggers its own profile or none', (vital) => {
    const row = CATALOGUE[vital];
    const top = [...row.codings, ...row.specific.map(({ coding }) => coding)];
    for (const { system, code } of top.filter((coding) => coding.system === LOINC_SYSTEM)) {
      const triggered = Object.keys(TRIGGERS).filter((id) => TRIGGERS[id]?.includes(code));
      expect({ system, code, triggered }).toEqual({
        system,
        code,
        triggered: row.profile === `${R4}vitalsigns` ? [] : [row.profile.slice(R4.length)],
      });
    }
  });

  it('keeps the codes of one pressure off the top of an Observation', () => {
    const tops = VITALS.flatMap((vital) => [
      ...CATALOGUE[vital].codings,
      ...CATALOGUE[vital].specific.map(({ coding }) => coding),
    ]).map(({ code }) => code);
    expect(tops).not.toContain('8480-6');
    expect(tops).not.toContain('76534-7');
  });
});

describe('specific codings', () => {
  it.each([
    ['pulse-rate', 'palpation', 'radial-artery', ['8867-4', '8893-0', '149562']],
    ['pulse-rate', 'palpation', 'carotid-artery', ['8867-4', '149562']],
    ['pulse-rate', 'palpation', null, ['8867-4', '149562']],
    ['pulse-rate', 'auscultation', 'apex', ['8867-4', '8890-6']],
    ['pulse-rate', 'pulse-oximetry', null, ['8867-4', '8889-8', '149530']],
    ['pulse-rate', 'electrocardiography', null, ['8867-4', '147842']],
    ['respiratory-rate', null, null, ['9279-1', '151562']],
    ['respiratory-rate', 'capnography', null, ['9279-1', '151594']],
    ['body-temperature', null, null, ['8310-5', '150364']],
    ['body-temperature', null, 'oral', ['8310-5', '8331-1', '188424']],
    ['body-temperature', 'thermometry', 'temporal', ['8310-5', '75539-7']],
    ['body-temperature', null, 'forehead', ['8310-5']],
    ['blood-pressure', 'oscillometry', 'upper-arm', ['85354-9', '150020']],
    ['blood-pressure', 'invasive', 'radial-artery', ['85354-9']],
  ] as const)('%s by %s at %s', (vital, method, site, expected) => {
    expect(codesOf(vital, method, site)).toEqual(expected);
  });

  it('of a pressure part say how it was taken', () => {
    const codes = (method: Method): string[][] =>
      CATALOGUE['blood-pressure'].parts.map((part) =>
        codingsOf(part, method, null).map(({ code }) => code),
      );
    expect(codes('auscultation')).toEqual([
      ['8480-6', '76534-7', '150021'],
      ['8462-4', '76535-4', '150022'],
      ['8478-0', '150023'],
    ]);
    expect(codes('palpation')[0]).toEqual(['8480-6', '8479-8', '150021']);
    expect(codes('invasive')).toEqual([
      ['8480-6', '76215-3', '150033'],
      ['8462-4', '76213-8', '150034'],
      ['8478-0', '150035'],
    ]);
  });

  it.each(VITALS)('of %s stand under methods and sites that it takes', (vital) => {
    const row = CATALOGUE[vital];
    for (const { methods, sites } of [row, ...row.parts].flatMap(({ specific }) => specific)) {
      for (const method of methods ?? []) expect([null, ...row.methodsTaken]).toContain(method);
      for (const site of sites ?? []) expect([null, ...row.sitesTaken]).toContain(site);
    }
  });
});

describe('the words of the contract', () => {
  it('give each method and each site to some sign', () => {
    const methods = new Set(VITALS.flatMap((vital) => CATALOGUE[vital].methodsTaken));
    const sites = new Set(VITALS.flatMap((vital) => CATALOGUE[vital].sitesTaken));
    expect([...methods].sort()).toEqual([...METHODS].sort());
    expect([...sites].sort()).toEqual([...SITES].sort());
  });

  it('require a method of pressure and pulse alone', () => {
    const required = VITALS.filter((vital) => CATALOGUE[vital].methodRequired);
    expect(required).toEqual(['pulse-rate', 'blood-pressure']);
  });

  it.each(VITALS)('keep %s in a unit that a sender may name', (vital) => {
    const { unit, unitsTaken } = CATALOGUE[vital];
    expect(unit === null ? unitsTaken.length === 0 : unitsTaken.some((u) => u === unit)).toBe(true);
  });
});

describe('codes typed right', () => {
  const concepts = [
    ...METHODS.map(methodConcept),
    ...POSITIONS.map(positionConcept),
    ...CONSCIOUSNESS_CODES.map(consciousnessConcept),
    ...SITES.flatMap((site) =>
      VITALS.flatMap((vital) => [null, ...SIDES].map((side) => siteConcept(vital, site, side))),
    ),
  ].flatMap((concept) => concept?.coding ?? []);
  const codings = [...VITALS.flatMap((vital) => allCodings(CATALOGUE[vital])), ...concepts];
  const of = (system: string): string[] => [
    ...new Set(codings.filter((coding) => coding.system === system).map(({ code }) => code)),
  ];

  it('knows a wrong check digit from a right one', () => {
    // LOINC Users' Guide; SNOMED International's own root concept and "Clinical finding".
    expect(['8867-4', '85354-9', '59408-5'].every(loincCheckDigitFits)).toBe(true);
    expect(['138875005', '404684003'].every(snomedCheckDigitFits)).toBe(true);
    expect(loincCheckDigitFits('8876-4')).toBe(false);
    expect(snomedCheckDigitFits('138857005')).toBe(false);
  });

  it.each(of(LOINC_SYSTEM))('LOINC %s', (code) => {
    expect(loincCheckDigitFits(code)).toBe(true);
  });

  it.each(of(SNOMED_SYSTEM))('SNOMED CT %s', (code) => {
    expect(snomedCheckDigitFits(code)).toBe(true);
  });

  it.each(of(MDC_SYSTEM))('MDC %s lies in the partition of measurements', (code) => {
    // IEEE 11073-10101: partition 2 (supervisory control and data acquisition), code = partition × 65536 + term.
    expect(Math.floor(Number(code) / 65_536)).toBe(2);
  });
});

describe('where on the body', () => {
  it('prefers the code of the side, and always says it in words', () => {
    expect(siteConcept('blood-pressure', 'upper-arm', 'left')).toEqual({
      coding: [{ system: SNOMED_SYSTEM, code: '368208006' }],
      text: 'Left upper arm',
    });
    expect(siteConcept('oxygen-saturation', 'finger', 'right')).toEqual({
      coding: [{ system: SNOMED_SYSTEM, code: '7569003' }],
      text: 'Right finger',
    });
    expect(siteConcept('pulse-rate', 'wrist', null)?.text).toBe('Wrist');
  });

  it('has words alone where no code was confirmed', () => {
    expect(siteConcept('blood-pressure', 'forearm', 'left')).toEqual({ text: 'Left forearm' });
    expect(positionConcept('semi-recumbent')).toEqual({ text: 'Semi-recumbent' });
  });

  it('tells the ear of a thermometer from that of an oximeter', () => {
    const codes = (['body-temperature', 'oxygen-saturation'] as const).map(
      (vital) => siteConcept(vital, 'ear', null)?.coding?.[0]?.code,
    );
    expect(codes).toEqual(['117590005', '48800003']);
  });

  it('is silent when nothing was told, and says a lone side', () => {
    expect(siteConcept('pulse-rate', null, null)).toBeNull();
    expect(siteConcept('blood-pressure', null, 'left')).toEqual({ text: 'Left side' });
  });
});
