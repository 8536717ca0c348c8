import type { SignedIn } from '../../http/route.js';
import { hasScope } from '../../auth/scopes.js';
import { Moment } from '../../pages/parts/moment.js';
import { Notice } from '../../pages/parts/notice.js';
import { ChartFigure } from '../figures/chart-figure.js';
import { FiguresForm, Select, orAll } from '../figures/figures-form.js';
import { maySeePeople } from '../figures/name-people.js';
import { writeCount, writeNumber, writeSigned } from '../figures/write-figures.js';
import { thinOut } from './agreement-charts.js';
import { PAIRS_AT_LEAST, PATIENTS_AT_LEAST, USUAL_PAIRS, driftState } from './agreement-figures.js';
import type { Drift } from './agreement-figures.js';
import { SIGNS, agreementAddress, deviceName } from './agreement-query.js';
import type { AgreementQuery, Grouping } from './agreement-query.js';
import { WINDOW_MINUTES } from './agreement-report.js';
import type { AgreementReport } from './agreement-report.js';
import { BandsTable, FiguresTable, GroupsTable } from './agreement-tables.js';
import { DriftTable } from './drift-table.js';
import { SIGN_WORDS, countWords, driftWords, summarise } from './agreement-words.js';
import type { SignWords } from './agreement-words.js';

export interface AgreementPageFacts {
  readonly report: AgreementReport;
  readonly caller: SignedIn;
  readonly zone: string;
  readonly nowMs: number;
  /** Drawn beforehand; null: there is nothing to draw. */
  readonly chart: string | null;
  readonly driftChart: string | null;
}

const GROUP_WORDS: Readonly<Record<Grouping, string>> = {
  device: 'Device',
  ward: 'Ward',
  person: 'Person',
};

function Form({ report: { query, groups }, caller }: AgreementPageFacts) {
  const found = groups
    .filter(({ key }) => key !== '')
    .map(({ key, label }) => ({ value: key, label }));
  const of = (by: Grouping) => (query.by === by ? found : []);
  const device = query.device === undefined ? '' : deviceName(query.device);
  return (
    <FiguresForm action="/desk/agreement" period={query.period}>
      <Select
        name="sign"
        label="Compared"
        chosen={query.sign}
        choices={SIGNS.map((value) => ({ value, label: SIGN_WORDS[value].name }))}
      />
      <Select
        name="by"
        label="Listed by"
        chosen={query.by}
        choices={(['device', 'ward', 'person'] as const).map((value) => ({
          value,
          label: GROUP_WORDS[value],
        }))}
      />
      <Select
        name="device"
        label="Device"
        chosen={device}
        choices={orAll(of('device'), device, 'every device')}
      />
      <Select
        name="ward"
        label="Ward"
        chosen={query.ward ?? ''}
        choices={orAll(of('ward'), query.ward ?? '', 'every ward')}
      />
      {maySeePeople(caller) && (
        <Select
          name="person"
          label="Person"
          chosen={query.personId ?? ''}
          choices={orAll(of('person'), query.personId ?? '', 'everybody')}
        />
      )}
      <label class="check">
        <input type="checkbox" name="taken-back" value="yes" checked={query.withTakenBack} /> Count
        rejected and withdrawn
      </label>
    </FiguresForm>
  );
}

function asked(query: AgreementQuery): string {
  const { period, device, ward, personId } = query;
  return [
    `${period.from} to ${period.to}`,
    device === undefined ? 'every device' : `device ${device.value}`,
    ward === undefined ? 'every ward' : `ward ${ward}`,
    ...(personId === undefined ? [] : ['one person']),
  ].join(', ');
}

/** What was looked at, and what was not: nothing is left out silently. */
function Basis({ report, zone, nowMs }: AgreementPageFacts) {
  const { comparison, query } = report;
  const { setAside, onlySinceMs, differences } = comparison;
  const { shown, every } = thinOut(differences);
  const doubted = differences.filter(({ isDoubted }) => isDoubted).length;
  return (
    <>
      <p class="soft">
        {`${asked(query)}. Made `}
        <Moment atMs={nowMs} zone={zone} />.
      </p>
      {onlySinceMs !== null && (
        <Notice kind="caution" word="In part">
          Only the newest readings by hand were looked at, from{' '}
          <Moment atMs={onlySinceMs} zone={zone} /> on. Ask for a shorter time, one ward or one
          device.
        </Notice>
      )}
      <ul>
        <li>
          {`A pair is a reading by hand and one by a device of the same sign, patient and set, or up to ${WINDOW_MINUTES} minutes apart; pressures only on the same arm, place and position as far as told.`}
        </li>
        <li>
          {`Counted with a held${query.withTakenBack ? ', rejected or withdrawn' : ''} side (crosses): ${writeCount(doubted, 'pair')}. What contradicts itself is what is looked for.`}
        </li>
        <li>
          {`Set aside: ${String(setAside.takenBack)} with a side that somebody rejected or withdrew, ${String(setAside.impossible)} with a side that is no measurement, ${String(setAside.doubtful)} with a doubtful unit or message.`}
        </li>
        {every > 1 && (
          <li>{`${String(shown.length)} of ${String(differences.length)} pairs are drawn, evenly over time; the figures are of all.`}</li>
        )}
      </ul>
    </>
  );
}

function TooFew({ report: { overall } }: AgreementPageFacts) {
  return (
    <Notice kind="note" word="Too few">
      {`${countWords(overall)}: too few for figures. It takes ${PAIRS_AT_LEAST} pairs of ${PATIENTS_AT_LEAST} patients at least; a hundred tell more.`}
    </Notice>
  );
}

export function describeDrift(drift: Drift, { unit }: SignWords): string {
  const { usual, weighted, summed, decision } = drift;
  const out = weighted.points.filter(({ signal }) => signal !== null).length;
  const last = summed.at(-1);
  const state = driftState(drift);
  return `The first ${USUAL_PAIRS} pairs differed by ${writeSigned(usual.middle)} ${unit} (SD ${writeNumber(usual.deviation)}). Of the ${String(summed.length)} after them the weighted average stands at ${writeSigned(weighted.points.at(-1)?.weighted ?? usual.middle)}; it was beyond its limits after ${writeCount(out, 'pair')}. The piled-up sums (CUSUM) stand at ${writeNumber(last?.high ?? 0)} upwards and ${writeNumber(last?.low ?? 0)} downwards, the signal comes above ${writeNumber(decision)}: ${driftWords(state)}.`;
}

function DriftPart({ report, driftChart, zone }: AgreementPageFacts) {
  const { query, drift } = report;
  const words = SIGN_WORDS[query.sign];
  const state = driftState(drift);
  return (
    <section>
      <h2>Drift</h2>
      {query.device === undefined && <p>Choose a device to see whether it has moved over time.</p>}
      {query.device !== undefined && drift === null && (
        <p>{`Too few pairs: the first ${USUAL_PAIRS} tell what is usual, and ten more must follow.`}</p>
      )}
      {drift !== null && driftChart !== null && (
        <>
          {state.state !== 'steady' && (
            <Notice kind="caution" word="Signal">
              {`The difference has ${driftWords(state)}`}
              {state.sinceMs !== null && (
                <>
                  {' since about '}
                  <Moment atMs={state.sinceMs} zone={zone} />
                </>
              )}
              . Look at the device, the cuff and the way of measuring.
            </Notice>
          )}
          <ChartFigure
            svg={driftChart}
            caption="Line: exponentially weighted average (weight 0.2, limits of 3 standard deviations). Grey dots: single pairs. Triangles: beyond the limits."
          />
          <p>{describeDrift(drift, words)}</p>
          <DriftTable drift={drift} zone={zone} unit={words.unit} />
        </>
      )}
    </section>
  );
}

function Meaning() {
  return (
    <section>
      <h2>What the figures mean</h2>
      <ul>
        <li>
          They are for orientation. A ward’s pairs are no validation of a device: that takes a
          protocol, two trained observers and patients chosen for it.
        </li>
        <li>
          Neither method is the truth. A cuff may seem to read high because somebody rounds down, or
          hears late.
        </li>
        <li>
          The two were not measured at one moment, so what differs includes what changed in between.
        </li>
        <li>
          Several pairs of one patient are taken as linked: the spread between patients and within
          them are added (Bland and Altman 1999, section 5.3; 2007). Intervals of the limits: Zou
          2013. The intervals of 95 % say how far chance alone may have moved a figure.
        </li>
        <li>
          {`Drift: the first ${USUAL_PAIRS} pairs of the days asked for tell what is usual; averages and sums follow the NIST/SEMATECH e-Handbook, 6.3.2.3 and 6.3.2.4. The sums look for a shift by one standard deviation, and by 5 at least. A single pair counts as three standard deviations at most: one slip of a finger is no drift. Begin at the last calibration.`}
        </li>
      </ul>
    </section>
  );
}

export function AgreementPage(facts: AgreementPageFacts) {
  const { report, caller, chart, zone } = facts;
  const { query, overall, groups, moreGroups, bands } = report;
  const words = SIGN_WORDS[query.sign];
  const { figures } = overall;
  const isLinked = query.by !== 'person' || maySeePeople(caller);
  return (
    <>
      <Form {...facts} />
      {figures === null ? (
        <TooFew {...facts} />
      ) : (
        <p class="summary">{summarise(words, overall)}</p>
      )}
      {chart !== null && (
        <ChartFigure
          svg={chart}
          caption="One dot is one pair. Solid line: bias; dashed: limits of agreement; shaded: their 95 % intervals. Crosses: pairs with a held side."
        />
      )}
      {figures !== null && <FiguresTable figures={figures} words={words} />}
      <Basis {...facts} />
      <BandsTable bands={bands} unit={words.unit} />
      <section>
        <h2>{`By ${query.by}`}</h2>
        <GroupsTable {...{ query, groups, zone, isLinked }} more={moreGroups} />
        {hasScope(caller.scopes, 'export.read') && (
          <p class="no-print">
            <a class="button" href={agreementAddress(query, {}, '/desk/agreement.csv')}>
              These figures as CSV
            </a>
          </p>
        )}
      </section>
      <DriftPart {...facts} />
      <Meaning />
    </>
  );
}
