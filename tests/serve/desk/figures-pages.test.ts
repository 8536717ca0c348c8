import { openTestGateway, type TestGateway } from '../../setup/gateway.js';
import { registerPeople, visitAs, type Visitor } from '../../setup/people.js';
import { fillWithDemo } from '../../setup/demo-wards.js';

let gateway: TestGateway;
let analyst: Visitor;
let manager: Visitor;
let nurse: Visitor;

beforeAll(async () => {
  gateway = await openTestGateway({}, { localSignIn: true });
  const passwords = await registerPeople(gateway);
  await fillWithDemo(gateway);
  analyst = await visitAs(gateway, passwords, 'ines');
  manager = await visitAs(gateway, passwords, 'odette');
  nurse = await visitAs(gateway, passwords, 'hazel');
}, 60_000);
afterAll(() => gateway.close());

const read = async (visitor: Visitor, path: string): Promise<string> => {
  const answer = await visitor.get(path);
  expect(answer.status).toBe(200);
  return answer.text();
};

describe('agreement', () => {
  it('shows figures, chart and tables, and that BP-7 has risen', async () => {
    const page = await read(analyst, '/desk/agreement');
    expect(page).toMatch(/Systolic pressure, \d+ pairs of \d+ patients/);
    expect(page).toContain('<svg ');
    expect(page).toContain('class="chart"');
    expect(page).toMatch(/BP-7<\/a>.*?risen.*? since \d{4}-\d\d-\d\d/s);
    expect(page).toMatch(/BP-6<\/a>.*?steady/s);
    expect(page).toContain('for orientation');
  });

  it('shows one device with its drift, and the pulse', async () => {
    const one = await read(analyst, '/desk/agreement?device=urn:example:device%7CBP-7');
    expect(one).toContain('id="drift-chart-title"');
    expect(one).toContain('The difference has risen');
    expect(one).toMatch(/Day by day.*?\d{4}-\d\d-\d\d.*?signal/s);
    const pulse = await read(analyst, '/desk/agreement?sign=pulse&by=ward');
    expect(pulse).toContain('oximeter less fingers');
    expect(pulse).toMatch(/fernbank<\/a>/);
  });

  it('names people only to those who may see them, and never a patient', async () => {
    const page = await read(analyst, '/desk/agreement?by=person');
    expect(page).toMatch(/Person [2-9A-HJ-NP-Z]{5}/);
    expect(page).not.toMatch(/N-\d{3}/);
    const named = await read(manager, '/desk/agreement?by=person');
    expect(named).toContain('N-402');
    const [, address] = /href="([^"]+person=[^"]+)">N-402/.exec(named) ?? [];
    const own = await read(manager, (address ?? '').replaceAll('&amp;', '&'));
    expect(own).toContain('one person');
    for (const shown of [page, named, own]) expect(shown).not.toMatch(/LF-\d|Plover|Rowan/);
  });

  it('lets nobody ask for one person who may not see people', async () => {
    const id = '0d9f6a9e-40cf-4d4d-9b6e-3a6f0a4a9a11';
    for (const path of [
      '/desk/agreement',
      '/desk/agreement.csv',
      '/desk/habits',
      '/desk/habits.csv',
    ]) {
      expect((await analyst.get(`${path}?person=${id}`)).status).toBe(403);
    }
  });

  it('says what cannot be asked', async () => {
    for (const [query, words] of [
      ['sign=mean', 'must be one of systolic, diastolic, pulse'],
      ['from=2026-02-30', 'must be a day such as'],
      ['patient=1', 'There is no parameter patient'],
      ['from=2026-05-02&to=2026-05-01', 'after the last'],
      ['person=1', 'must be one of those on the page'],
    ]) {
      const answer = await manager.get(`/desk/agreement?${query ?? ''}`);
      expect(answer.status).toBe(400);
      expect(await answer.text()).toContain(words);
    }
  });

  it('says that there are too few, and gives no figures then', async () => {
    const page = await read(analyst, '/desk/agreement?from=2020-01-01&to=2020-01-31');
    expect(page).toContain('0 pairs of 0 patients: too few for figures');
    expect(page).not.toContain('<svg');
  });

  it('writes markup in a filter as text', async () => {
    const page = await read(analyst, `/desk/agreement?ward=${encodeURIComponent('<img src=x>')}`);
    expect(page).toContain('&lt;img src=x>');
    expect(page).not.toContain('<img src=x>');
  });
});

describe('entry habits', () => {
  it('shows who rounds, who writes 18 for everybody, and who writes late', async () => {
    const page = await read(manager, '/desk/habits');
    expect(page).toMatch(/N-409<\/a>.*?zeros preferred/s);
    expect(page).toMatch(/18 \(100 %\).*?heaped/s);
    const [, delays = ''] = page.split('<h2>Delay</h2>');
    expect(delays).toMatch(/N-417<\/a>.*?100 %/s);
    expect(page).toContain('id="digits-chart-title"');
    expect(page).toContain('As drawn: each digit of the scale is expected in 20 %');
  });

  it('knows wards too, and pseudonyms', async () => {
    const byWard = await read(analyst, '/desk/habits?by=ward');
    expect(byWard).toMatch(/fernbank<\/a>.*?zeros preferred/s);
    const page = await read(analyst, '/desk/habits');
    expect(page).toContain('names made up for this report');
    expect(page).not.toMatch(/N-\d{3}|LF-\d/);
  });
});

describe('tables for spreadsheets', () => {
  it('need export.read, and hold figures only', async () => {
    const answer = await analyst.get('/desk/agreement.csv');
    expect(answer.headers.get('content-type')).toContain('text/csv');
    expect(answer.headers.get('content-disposition')).toMatch(/^attachment; filename="agreement-/);
    const [head = '', all = '', ...rows] = (await answer.text()).trim().split('\r\n');
    expect(head.split(',')).toHaveLength(25);
    expect(all.split(',')).toHaveLength(25);
    expect(rows.map((row) => row.split(',')[5]).sort()).toEqual([
      '"BP-0"',
      '"BP-1"',
      '"BP-6"',
      '"BP-7"',
    ]);
    const habits = await (await analyst.get('/desk/habits.csv?by=ward')).text();
    expect(habits).toMatch(/,"fernbank",/);
    expect(habits).not.toMatch(/LF-\d|N-\d/);
  });
});

it('is for reviewers alone', async () => {
  for (const path of [
    '/desk/agreement',
    '/desk/habits',
    '/desk/agreement.csv',
    '/desk/habits.csv',
  ]) {
    expect((await nurse.get(path)).status).toBe(403);
    const stranger = await fetch(`${gateway.url}${path}`, { redirect: 'manual' });
    expect(stranger.headers.get('location') ?? String(stranger.status)).toMatch(/signin|401/);
  }
});
