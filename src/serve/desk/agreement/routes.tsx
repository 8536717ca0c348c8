import type { Route } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';
import { reportMaker } from '../figures/make-report.js';
import { sendFigures } from '../figures/send-figures.js';
import type { FiguresServices } from '../figures/services.js';
import { drawAgreement, drawDrift } from './agreement-charts.js';
import { agreementTable } from './agreement-csv.js';
import { AgreementPage, describeDrift } from './agreement-page.js';
import { readAgreementQuery } from './agreement-query.js';
import { makeAgreementReport } from './agreement-report.js';
import type { AgreementReport } from './agreement-report.js';
import { SIGN_WORDS, countWords, summarise } from './agreement-words.js';

const reportFor = reportMaker(readAgreementQuery, makeAgreementReport);

async function draw({ query, comparison, overall, drift }: AgreementReport): Promise<{
  readonly chart: string | null;
  readonly driftChart: string | null;
}> {
  const words = SIGN_WORDS[query.sign];
  const { differences } = comparison;
  const told = summarise(words, overall) || `${countWords(overall)}: too few for figures.`;
  return {
    chart:
      differences.length === 0
        ? null
        : await drawAgreement(differences, overall.figures, words, told),
    driftChart: drift && (await drawDrift(drift, words, describeDrift(drift, words))),
  };
}

export function agreementRoutes(services: FiguresServices): Route[] {
  return [
    {
      method: 'get',
      path: '/desk/agreement',
      by: 'session',
      scopes: ['review.read'],
      summary: 'Readings by hand against readings by devices',
      async handler(req, res, caller) {
        const report = await reportFor(services, req.query, caller);
        const { siteZone: zone, clock } = services;
        const facts = { report, caller, zone, nowMs: clock(), ...(await draw(report)) };
        sendPage(
          res,
          { title: 'Agreement', current: '/desk/agreement', caller },
          <AgreementPage {...facts} />,
        );
      },
    },
    {
      method: 'get',
      path: '/desk/agreement.csv',
      by: 'session',
      scopes: ['review.read', 'export.read'],
      needsAll: true,
      summary: 'The figures of agreement for a spreadsheet',
      async handler(req, res, caller) {
        const report = await reportFor(services, req.query, caller);
        const { from, to } = report.query.period;
        await sendFigures(res, `agreement-${from}-${to}.csv`, agreementTable(report));
      },
    },
  ];
}
