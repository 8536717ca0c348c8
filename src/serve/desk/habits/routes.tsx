import type { Route } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';
import { reportMaker } from '../figures/make-report.js';
import { sendFigures } from '../figures/send-figures.js';
import type { FiguresServices } from '../figures/services.js';
import { drawBreaths, drawDigits } from './habits-charts.js';
import { habitsTable } from './habits-csv.js';
import { HabitsPage } from './habits-page.js';
import { readHabitsQuery } from './habits-query.js';
import { makeHabitsReport } from './habits-report.js';
import type { HabitsReport } from './habits-report.js';
import { INSTRUMENT_FACTS } from './instruments.js';

const reportFor = reportMaker(readHabitsQuery, makeHabitsReport);

async function draw({ overall }: HabitsReport): Promise<{
  readonly digitsChart: string | null;
  readonly breathsChart: string | null;
}> {
  const { digits, rates } = overall;
  const { stethoscope } = digits;
  return {
    digitsChart:
      stethoscope.counted === 0
        ? null
        : await drawDigits(stethoscope, INSTRUMENT_FACTS.stethoscope.name),
    breathsChart: rates.length === 0 ? null : await drawBreaths(rates),
  };
}

export function habitsRoutes(services: FiguresServices): Route[] {
  return [
    {
      method: 'get',
      path: '/desk/habits',
      by: 'session',
      scopes: ['review.read'],
      summary: 'Habits that show in what people write',
      async handler(req, res, caller) {
        const report = await reportFor(services, req.query, caller);
        const { siteZone: zone, clock } = services;
        const facts = { report, caller, zone, nowMs: clock(), ...(await draw(report)) };
        sendPage(
          res,
          { title: 'Entry habits', current: '/desk/habits', caller },
          <HabitsPage {...facts} />,
        );
      },
    },
    {
      method: 'get',
      path: '/desk/habits.csv',
      by: 'session',
      scopes: ['review.read', 'export.read'],
      needsAll: true,
      summary: 'The figures of entry habits for a spreadsheet',
      async handler(req, res, caller) {
        const report = await reportFor(services, req.query, caller);
        const { from, to } = report.query.period;
        await sendFigures(res, `entry-habits-${from}-${to}.csv`, habitsTable(report));
      },
    },
  ];
}
