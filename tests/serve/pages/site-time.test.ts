/** Clocks of Europe/Vienna: put on from 02:00 to 03:00 on 29 March 2026, back from 03:00 on 25 October. */
import { readSiteTime, writeSiteTime } from '../../../src/serve/pages/site-time.js';
import { stepsBetween } from '../../../src/serve/pages/steps-between.js';

const ZONE = 'Europe/Vienna';
const at = (text: string): number => Date.parse(text);

describe('a time in a form', () => {
  it.each([
    ['2026-03-01T08:15', '2026-03-01T07:15:00Z'],
    ['2026-07-01 08:15', '2026-07-01T06:15:00Z'],
    ['2026-07-01', '2026-06-30T22:00:00Z'],
    ['2026-03-29T02:30', '2026-03-29T01:30:00Z'],
    ['2026-10-25T02:30', '2026-10-25T00:30:00Z'],
    ['2024-02-29T00:00', '2024-02-28T23:00:00Z'],
  ])('%s is meant on the clocks of the site', (text, utc) => {
    expect(readSiteTime(text, ZONE)).toBe(at(utc));
  });

  it.each(['', 'yesterday', '2026-02-29', '2026-13-01', '2026-01-01T24:00', '2026-01-01T08:15Z'])(
    'is not made of %j',
    (text) => {
      expect(readSiteTime(text, ZONE)).toBeNull();
    },
  );

  it('is written as the field shows it', () => {
    expect(writeSiteTime(at('2026-07-01T06:15:30Z'), ZONE)).toBe('2026-07-01T08:15');
  });
});

describe('days and hours of a chart', () => {
  it('are those of the site, also where the clocks are changed', () => {
    const range = { fromMs: at('2026-03-28T12:00:00Z'), toMs: at('2026-03-30T12:00:00Z') };
    expect(stepsBetween(range, 'day', ZONE).map((ms) => new Date(ms).toISOString())).toEqual([
      '2026-03-27T23:00:00.000Z',
      '2026-03-28T23:00:00.000Z',
      '2026-03-29T22:00:00.000Z',
    ]);
    const night = { fromMs: at('2026-10-25T00:10:00Z'), toMs: at('2026-10-25T03:10:00Z') };
    expect(stepsBetween(night, 'hour', ZONE)).toEqual(
      ['00', '01', '02', '03'].map((hour) => at(`2026-10-25T${hour}:00:00Z`)),
    );
  });

  it('begin on the half hour where the clocks do', () => {
    const range = { fromMs: at('2026-05-01T00:00:00Z'), toMs: at('2026-05-01T01:00:00Z') };
    expect(
      stepsBetween(range, 'hour', 'Asia/Kolkata').map((ms) => new Date(ms).toISOString()),
    ).toEqual(['2026-04-30T23:30:00.000Z', '2026-05-01T00:30:00.000Z']);
  });
});
