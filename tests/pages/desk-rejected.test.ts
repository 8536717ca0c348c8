import { readFile } from 'node:fs/promises';
import type { Browser, Page } from 'playwright-core';
import {
  describeInChromium,
  expectNoViolationsInAnyLight,
  launchChromium,
  signInAs,
} from '../setup/browser.js';
import { fillDeskWard, HOSTILE, openDeskWard } from '../setup/desk-ward.js';
import type { DeskWard } from '../setup/desk-ward.js';

/** RFC 4180 §2: quoted cells may hold commas, line ends and doubled quotes. */
function parseCsv(text: string): string[][] {
  const rows: string[][] = [];
  let row: string[] = [];
  for (const [, quoted, plain = '', end] of text.matchAll(
    /(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/g,
  )) {
    row.push(quoted === undefined ? plain : quoted.replaceAll('""', '"'));
    if (end === ',') continue;
    rows.push(row);
    row = [];
  }
  return rows;
}

describeInChromium('what was rejected, in a browser', () => {
  let ward: DeskWard;
  let browser: Browser;
  let page: Page;
  const complaints: string[] = [];

  beforeAll(async () => {
    ward = await openDeskWard();
    await fillDeskWard(ward);
    browser = await launchChromium();
    page = await signInAs(browser, ward, 'ines', '/desk/rejected');
    page.on('console', (message) => complaints.push(message.text()));
    page.on('pageerror', (error) => complaints.push(String(error)));
  });
  afterAll(async () => {
    await browser.close();
    await ward.gateway.close();
  });

  const shot = (name: string) =>
    process.env.SHOTS === undefined
      ? undefined
      : page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });

  it('shows what the rules refused and why, with what was sent as inert text', async () => {
    await page.goto('/desk/rejected');
    expect(await page.locator('tbody tr').count()).toBe(3);
    const text = await page.locator('main').innerText();
    expect(text).toContain(HOSTILE.place);
    expect(text).toContain(HOSTILE.device);
    expect(await page.title()).toContain('Rejected');
    await expectNoViolationsInAnyLight(page);
    await shot('rejected');
  });

  it('finds by ward, rule, and by patient without a word of them in the address', async () => {
    await page.goto('/desk/rejected');
    await page.getByLabel('Ward or place').fill('larkfield');
    await page.getByRole('button', { name: 'Search', exact: true }).click();
    expect(await page.locator('tbody tr').count()).toBe(2);
    expect(page.url()).toContain('ward=larkfield');
    await page.getByLabel('Patient identifier').fill('DW-2');
    await page.getByRole('button', { name: 'Search', exact: true }).click();
    await page.waitForURL('**/desk/rejected/search');
    expect(page.url()).not.toContain('DW-2');
    expect(await page.locator('tbody tr').count()).toBe(1);
    expect(await page.getByLabel('Patient identifier').inputValue()).toBe('DW-2');
  });

  it('shows submissions refused whole and rows unread, and leads to their bytes', async () => {
    await page.goto('/desk/rejected?of=submissions');
    await shot('submissions');
    await expectNoViolationsInAnyLight(page);
    const text = await page.locator('main').innerText();
    expect(text).toContain('not JSON');
    const link = page.getByRole('row').filter({ hasText: 'not JSON' }).getByRole('link');
    await link.first().click();
    await page.getByRole('region', { name: 'What was sent' }).waitFor();
    expect(await page.getByRole('region', { name: 'What was sent' }).innerText()).toContain(
      '<script>document.title = "taken over"</script>',
    );
    expect(await page.title()).not.toContain('taken over');
    await expectNoViolationsInAnyLight(page);
    await shot('submission');
    await page.goto('/desk/rejected?of=rows');
    expect(await page.locator('main').innerText()).toContain('no mapping knows its code');
    await shot('rows');
    await expectNoViolationsInAnyLight(page);
  });

  it('gives all of a search as a table that holds no formula', async () => {
    await page.goto('/desk/rejected');
    const coming = page.waitForEvent('download');
    await page.getByRole('button', { name: 'All of this search as CSV' }).click();
    const download = await coming;
    expect(download.suggestedFilename()).toBe('refused-readings.csv');
    const bytes = await readFile(await download.path());
    expect([...bytes.subarray(0, 3)]).toEqual([0xef, 0xbb, 0xbf]);
    const rows = parseCsv(bytes.subarray(3).toString('utf8'));
    expect(rows).toHaveLength(4);
    expect(new Set(rows.map((row) => row.length)).size).toBe(1);
    const [head = [], ...lines] = rows;
    const hostile = lines.find((row) => row.includes(`'${HOSTILE.device}`));
    expect(hostile?.[head.indexOf('note')]).toBe(`'${HOSTILE.note}`);
    expect(hostile?.[head.indexOf('place')]).toBe(HOSTILE.place);
    for (const cell of lines.flat()) expect(cell).not.toMatch(/^[=+@\t\r\n\0]/);
  });

  it('counts over time, as a chart and as a table', async () => {
    await page.goto('/desk/rejected/counts');
    await page.getByRole('img', { name: 'Rejected readings by rule' }).waitFor();
    await page.getByText('The numbers as a table').first().click();
    await expectNoViolationsInAnyLight(page);
    await shot('counts');
  });

  it('runs into no policy of its own', () => {
    expect(complaints).toEqual([]);
  });
});
