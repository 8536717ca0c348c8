import { hasScope } from '../../auth/scopes.js';
import type { SignedIn } from '../../http/route.js';
import { Moment } from '../../pages/parts/moment.js';
import { Notice } from '../../pages/parts/notice.js';
import { ChartFigure } from '../figures/chart-figure.js';
import { FiguresForm, Select, orAll } from '../figures/figures-form.js';
import { maySeePeople } from '../figures/name-people.js';
import { DrawnBreaths, DrawnDigits } from './drawn-tables.js';
import { habitsAddress } from './habits-query.js';
import type { HabitsReport } from './habits-report.js';
import { BreathsTable, DelaysTable, DigitsTable, RepeatsTable } from './habits-tables.js';
import { INSTRUMENTS } from './instruments.js';

export interface HabitsPageFacts {
  readonly report: HabitsReport;
  readonly caller: SignedIn;
  readonly zone: string;
  readonly nowMs: number;
  /** Drawn beforehand; null: there is nothing to draw. */
  readonly digitsChart: string | null;
  readonly breathsChart: string | null;
}

function Form({ report: { query, groups }, caller }: HabitsPageFacts) {
  const found = groups
    .filter(({ key }) => key !== '')
    .map(({ key, label }) => ({ value: key, label }));
  return (
    <FiguresForm action="/desk/habits" period={query.period}>
      <Select
        name="by"
        label="Listed by"
        chosen={query.by}
        choices={[
          { value: 'person', label: 'Person' },
          { value: 'ward', label: 'Ward' },
        ]}
      />
      <Select
        name="ward"
        label="Ward"
        chosen={query.ward ?? ''}
        choices={orAll(query.by === 'ward' ? found : [], query.ward ?? '', 'every ward')}
      />
      {maySeePeople(caller) && (
        <Select
          name="person"
          label="Person"
          chosen={query.personId ?? ''}
          choices={orAll(query.by === 'person' ? found : [], query.personId ?? '', 'everybody')}
        />
      )}
    </FiguresForm>
  );
}

function Basis({ report, caller, zone, nowMs }: HabitsPageFacts) {
  const { query, onlySinceMs, setsOnlySinceMs, moreGroups } = report;
  const { period, ward } = query;
  return (
    <>
      <p class="soft">
        {`${period.from} to ${period.to}, ${ward === undefined ? 'every ward' : `ward ${ward}`}. Made `}
        <Moment atMs={nowMs} zone={zone} />.
      </p>
      {!maySeePeople(caller) && query.by === 'person' && (
        <p>
          People stand under names made up for this report: the same person has the same name
          throughout these days, and another for others.
        </p>
      )}
      {onlySinceMs !== null && (
        <Notice kind="caution" word="In part">
          Only the newest readings were looked at, from <Moment atMs={onlySinceMs} zone={zone} />{' '}
          on. Ask for a shorter time or one ward.
        </Notice>
      )}
      {setsOnlySinceMs !== null && (
        <Notice kind="caution" word="In part">
          Sets were held against each other only from <Moment atMs={setsOnlySinceMs} zone={zone} />{' '}
          on.
        </Notice>
      )}
      {moreGroups > 0 && <p>{`${String(moreGroups)} more with fewer readings are not listed.`}</p>}
    </>
  );
}

function Meaning() {
  return (
    <section>
      <h2>What the figures mean</h2>
      <ul>
        <li>
          A habit shows how numbers are written down, not how well somebody cares. Talk before you
          judge: a scale with coarse marks, a broken thermometer or a full ward explains much.
        </li>
        <li>
          Last digits are held against those that the instrument can show: five even ones for a
          scale with a mark every 2 mmHg and for a count over part of a minute, all ten else. Zeros
          count as preferred from 100 numbers on, with p under 0.001 and more than 40 % zeros (30 %
          where all ten can be).
        </li>
        <li>
          Rates count as heaped from 50 on, when 16, 18 and 20 make more than 60 % (80 % where most
          were counted over part of a minute, so that only even rates could come), or when the
          standard deviation is under 12 % of the mean.
        </li>
        <li>
          Repeated: every number as before twice running, or three signs unchanged through four
          sets. One repeat can be chance, which the column beside it tells.
        </li>
        <li>
          What was rejected or withdrawn counts, since it was written so; a corrected value counts
          as corrected. What devices sent by themselves does not count.
        </li>
      </ul>
    </section>
  );
}

export function HabitsPage(facts: HabitsPageFacts) {
  const { report, caller, digitsChart, breathsChart } = facts;
  const { query, overall, groups } = report;
  const tables = {
    query,
    rows: [...groups, { key: '', label: 'all', ...overall }],
    isLinked: query.by === 'ward' || maySeePeople(caller),
  };
  return (
    <>
      <Form {...facts} />
      <Basis {...facts} />
      <section>
        <h2>Last digits</h2>
        {digitsChart !== null && (
          <div class="chart-and-table">
            <ChartFigure
              svg={digitsChart}
              caption="All pressures by stethoscope. Dashed: where every digit of the scale would stand."
            />
            <DrawnDigits digits={overall.digits.stethoscope} />
          </div>
        )}
        {INSTRUMENTS.map((instrument) => (
          <DigitsTable key={instrument} {...tables} instrument={instrument} />
        ))}
      </section>
      <section>
        <h2>Respiratory rates</h2>
        {breathsChart !== null && (
          <div class="chart-and-table">
            <ChartFigure
              svg={breathsChart}
              caption="All counted respiratory rates. Those below 6 and above 36 stand at the ends."
            />
            <DrawnBreaths rates={overall.rates} />
          </div>
        )}
        <BreathsTable {...tables} />
      </section>
      <section>
        <h2>Repeated sets</h2>
        <RepeatsTable {...tables} />
      </section>
      <section>
        <h2>Delay</h2>
        <DelaysTable {...tables} />
      </section>
      {hasScope(caller.scopes, 'export.read') && (
        <p class="no-print">
          <a class="button" href={habitsAddress(query, {}, '/desk/habits.csv')}>
            These figures as CSV
          </a>
        </p>
      )}
      <Meaning />
    </>
  );
}
