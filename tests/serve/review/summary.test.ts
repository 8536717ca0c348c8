import {
  breaths,
  decision,
  faultsOf,
  firstOf,
  height,
  identifierOf,
  newNumber,
  openReviewDesk,
  saturation,
} from './review-desk.js';
import type { Json, ReviewDesk } from './review-desk.js';

let desk: ReviewDesk;
beforeAll(async () => {
  desk = await openReviewDesk();
});
afterAll(() => desk.gateway.close());

interface Summary {
  readonly waiting: Json;
  readonly out: Json;
  readonly verdicts: Json;
  readonly byRule: readonly Json[];
  readonly bySource: readonly Json[];
  readonly byLocation: readonly Json[];
  readonly refusedSubmissions: Json;
}

const summary = async (): Promise<Summary> => {
  const { status, body, text } = await desk.ask<Summary>('/review/summary');
  if (status !== 200) throw new Error(text);
  expect(faultsOf('review-summary:1', body)).toEqual([]);
  return body;
};

const twice = (count: number): Json => ({ last24Hours: count, last7Days: count });
const NONE = twice(0);

describe('the summary', () => {
  it('has a form also when there is nothing', async () => {
    expect(await summary()).toMatchObject({
      waiting: { count: 0, oldestSince: null, oldestAgeSeconds: null, nextDeadline: null },
      out: { count: 0, byHold: { value: 0, unit: 0, identity: 0 } },
      verdicts: { accepted: NONE, noted: NONE, held: NONE, rejected: NONE },
      byRule: [],
      refusedSubmissions: { ...NONE, byStatus: [] },
      countedInPart: [],
    });
  });

  it('counts what waits and what is out, by gravity and doubt, with the next deadline', async () => {
    const unknown = { patient: { identifier: identifierOf(newNumber()) } };
    const waiting = firstOf(await desk.send([height(236)], { location: 'larkfield/3' }));
    await desk.send([saturation(81), breaths(17)], { ...unknown, location: 'larkfield/3' });
    await desk.send([height(237)], { location: 'elder-court/1' });
    const pressure = {
      vital: 'blood-pressure',
      method: 'auscultation',
      site: 'upper-arm',
      side: 'left',
      systolic: 261,
      diastolic: 117,
      unit: 'mm[Hg]',
    };
    await desk.send([pressure], { location: 'larkfield' });
    const released = firstOf(await desk.send([height(238)]));
    await desk.decide(released, decision('release', 1));
    const found = await summary();
    const { body: first } = await desk.read(waiting);
    expect(found.waiting).toEqual({
      count: 4,
      critical: 1,
      other: 3,
      byHold: { value: 2, unit: 0, identity: 2 },
      oldestSince: first.changedAt,
      oldestAgeSeconds: expect.any(Number) as number,
      nextDeadline: first.deadline,
    });
    expect(found.out).toMatchObject({
      count: 1,
      critical: 1,
      byHold: { value: 1, unit: 0, identity: 0 },
    });
    expect(found.verdicts).toMatchObject({ noted: twice(1), held: twice(5), rejected: NONE });
    expect(found.byRule).toEqual(
      expect.arrayContaining([
        { rule: 'patient-unknown', ...twice(2) },
        { rule: 'value-doubtful', ...twice(3) },
      ]),
    );
    expect(found.byLocation.map(({ location, held }) => [location, held])).toEqual([
      ['larkfield', twice(4)],
      ['elder-court', twice(1)],
      [null, NONE],
    ]);
  });

  it('tells the sources apart, and the last day from the last seven', async () => {
    await desk.sendFrom(desk.monitorToken, [saturation(106), saturation(97)]);
    const old = await desk.sendFrom(desk.monitorToken, [saturation(107)]);
    const older = await desk.sendFrom(desk.monitorToken, [saturation(108)]);
    const setBack = (setId: string, days: number): Promise<unknown> =>
      desk.gateway.database.pool.query(
        'update readings set stamp = stamp - $2 * interval $$1 day$$ where set_id = $1',
        [setId, days],
      );
    await setBack(old.setId, 3);
    await setBack(older.setId, 8);
    const { bySource } = await summary();
    expect(bySource).toEqual(
      expect.arrayContaining([
        {
          source: 'corridor monitors',
          accepted: twice(1),
          noted: NONE,
          held: NONE,
          rejected: { last24Hours: 1, last7Days: 2 },
        },
      ]),
    );
  });

  it('counts sets that were refused, and no decisions', async () => {
    await desk.gateway.ask('/sets', { body: '{', token: desk.monitorToken });
    const id = firstOf(await desk.send([breaths(12)]));
    expect((await desk.decide(id, decision('release', 1))).status).toBe(409);
    const { refusedSubmissions } = await summary();
    expect(refusedSubmissions).toMatchObject({
      byStatus: expect.arrayContaining([{ status: 400, ...twice(1) }]) as unknown,
      bySource: [{ source: 'corridor monitors' }],
    });
    expect(JSON.stringify(refusedSubmissions)).not.toContain('409');
  });
});
