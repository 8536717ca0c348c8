/** Sets on their way from a tablet: without a network, killed, by two tabs, for the next person, with a full disk. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import type { SetJson } from '../../src/browser/bedside/door.js';
import {
  openDoorIn,
  serveDoor,
  signIn,
  startTablet,
  waitForCount,
} from '../setup/bedside-browser.js';
import type { InPage, Tablet } from '../setup/bedside-browser.js';
import { describeInChromium, launchChromium } from '../setup/browser.js';
import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';
import type { Passwords } from '../setup/people.js';

const send = (page: Page, set: unknown) =>
  page.evaluate((each) => (globalThis as InPage).door.send(each as SetJson), set);
const signedIn = (page: Page) => page.evaluate(() => (globalThis as InPage).door.signedIn());
const mine = (page: Page) => page.evaluate(() => (globalThis as InPage).door.outbox.mine());

describeInChromium('the way of a set from the bedside', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let patient: TestPatient;
  let browser: Browser;
  let analyst: string;

  beforeAll(async () => {
    gateway = await openTestGateway({}, { localSignIn: true });
    passwords = await registerPeople(gateway);
    patient = await registerPatient(gateway, 'LF-20417', '1958-11-02');
    analyst = await gateway.token('review.read system/*.rs');
    browser = await launchChromium();
  });
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  async function openAs(login: 'hazel' | 'tobias', context?: BrowserContext): Promise<Page> {
    const own = context ?? (await browser.newContext());
    await serveDoor(own);
    const page = await own.newPage();
    await signIn(page, { gateway, passwords }, login);
    await openDoorIn(page, gateway);
    await signedIn(page);
    return page;
  }

  /** The submissions that brought a set of this id. */
  async function submissionsOf(setId: string) {
    const { rows } = await gateway.database.pool.query<{
      person: string;
      sent_by: string | null;
      holds_key: boolean;
    }>(
      `select w.value as person, h.value as sent_by, s.holds_key from submissions s
         left join people w on w.person_key = s.person_key
         left join people h on h.person_key = s.sent_by_key
        where s.set_id = $1`,
      [setId],
    );
    return rows;
  }

  const taken = (setId: string) =>
    gateway.ask<{ entry?: { resource: { effectiveDateTime: string } }[] }>(
      `/fhir/Observation?identifier=urn:ietf:rfc:3986%7Curn:uuid:${setId}%230`,
      { token: analyst },
    );

  it('is answered at once with a network, and nothing stays behind', async () => {
    const page = await openAs('hazel');
    const set = setOf(patient, [oxygen(97), pressure('oscillometry', 122, 78)]);
    const outcome = await send(page, set);
    expect(outcome).toMatchObject({ state: 'answered', status: 201 });
    await waitForCount(page, 0);
    expect(await submissionsOf(set.setId)).toEqual([
      { person: 'N-311', sent_by: null, holds_key: true },
    ]);
    await page.context().close();
  });

  it('waits without a network and goes by itself, in order, with its own time, when it is back', async () => {
    const page = await openAs('hazel');
    const context = page.context();
    await context.setOffline(true);
    const sets = [setOf(patient, [oxygen(96)]), setOf(patient, [oxygen(95)])];
    for (const set of sets) {
      expect(await send(page, set)).toEqual({ state: 'waiting', why: 'no-network' });
    }
    await waitForCount(page, 2);
    expect((await mine(page)).map(({ setId }) => setId)).toEqual(sets.map(({ setId }) => setId));
    await context.setOffline(false);
    await waitForCount(page, 0);
    const { rows } = await gateway.database.pool.query<{ set_id: string }>(
      'select set_id from submissions where set_id = any($1) order by submission_id',
      [sets.map(({ setId }) => setId)],
    );
    expect(rows.map((row) => row.set_id)).toEqual(sets.map(({ setId }) => setId));
    const { body } = await taken(sets[0]?.setId ?? '');
    expect(Date.parse(body.entry?.[0]?.resource.effectiveDateTime ?? '')).toBe(
      Date.parse(sets[0]?.takenAt ?? ''),
    );
    await context.close();
  });

  it('goes once, however often it is tapped and by however many tabs', async () => {
    const page = await openAs('hazel');
    const other = await page.context().newPage();
    await openDoorIn(other, gateway);
    await signedIn(other);
    await page.context().setOffline(true);
    const set = setOf(patient, [oxygen(94)]);
    const taps = await Promise.all([send(page, set), send(page, set), send(other, set)]);
    expect(taps.map(({ state }) => state)).toEqual(['waiting', 'waiting', 'waiting']);
    await waitForCount(other, 1);
    await page.context().setOffline(false);
    await Promise.all([waitForCount(page, 0), waitForCount(other, 0)]);
    expect(await send(other, set)).toMatchObject({ state: 'answered', status: 201 });
    expect(await send(page, set)).toMatchObject({ state: 'answered', status: 201 });
    expect(await submissionsOf(set.setId)).toHaveLength(1);
    await page.context().close();
  });

  it('goes again when its answer was lost, and is one set', async () => {
    const page = await openAs('hazel');
    let lost = 0;
    await page.context().route('**/sets', async (route) => {
      await route.fetch();
      lost += 1;
      await (lost === 1 ? route.abort('connectionreset') : route.continue());
    });
    const set = setOf(patient, [oxygen(93)]);
    expect(await send(page, set)).toEqual({ state: 'waiting', why: 'no-network' });
    await waitForCount(page, 0);
    expect(await submissionsOf(set.setId)).toHaveLength(1);
    await page.context().close();
  });

  it('does not take the page of a hotspot for the gateway', async () => {
    const page = await openAs('hazel');
    await page
      .context()
      .route('**/sets', (route) =>
        route.fulfill({ status: 200, contentType: 'text/html', body: '<h1>Welcome</h1>' }),
      );
    const set = setOf(patient, [oxygen(92)]);
    expect(await send(page, set)).toEqual({ state: 'waiting', why: 'no-network' });
    await page.context().unroute('**/sets');
    await page.evaluate(() => (globalThis as InPage).door.outbox.sendNow());
    await waitForCount(page, 0);
    expect(await submissionsOf(set.setId)).toHaveLength(1);
    await page.context().close();
  });

  it('goes on with a new token when one ran out, and asks to sign in when the session has', async () => {
    const page = await openAs('hazel');
    const spoil = { times: 1 };
    await page.context().route('**/sets', (route) => {
      spoil.times -= 1;
      const authorization = spoil.times >= 0 ? { authorization: 'Bearer ended' } : {};
      return route.continue({ headers: { ...route.request().headers(), ...authorization } });
    });
    expect(await send(page, setOf(patient, [oxygen(91)]))).toMatchObject({ state: 'answered' });
    spoil.times = 1;
    await gateway.database.pool.query('delete from sessions');
    const set = setOf(patient, [oxygen(90)]);
    expect(await send(page, set)).toEqual({ state: 'waiting', why: 'sign-in-needed' });
    expect(await signedIn(page)).toBeNull();
    await signIn(page, { gateway, passwords }, 'hazel');
    await openDoorIn(page, gateway);
    expect(await signedIn(page)).toMatchObject({ name: 'Hazel Brook', saidBy: 'gateway' });
    await waitForCount(page, 0);
    expect(await submissionsOf(set.setId)).toHaveLength(1);
    await page.context().close();
  });

  it('is kept with what the gateway said when it will not have it, until its person decides', async () => {
    const page = await openAs('hazel');
    const set = setOf(patient, [{ ...oxygen(97), note: 'x'.repeat(501) }]);
    expect(await send(page, set)).toMatchObject({ state: 'refused', status: 400 });
    await waitForCount(page, 1);
    const sound = setOf(patient, [oxygen(97)]);
    expect(await send(page, sound)).toMatchObject({ state: 'answered', status: 201 });
    expect(await mine(page)).toMatchObject([{ setId: set.setId, refusal: { status: 400 } }]);
    const out = await page.evaluate(
      (setId) => (globalThis as InPage).door.outbox.takeOut(setId),
      set.setId,
    );
    expect(out).toEqual(set);
    await waitForCount(page, 0);
    await page.context().close();
  });

  it('survives a sign-out, shows the next person its number only, and goes as its taker’s', async () => {
    const page = await openAs('hazel');
    const context = page.context();
    const set = setOf(patient, [oxygen(89)]);
    await page.evaluate((draft) => (globalThis as InPage).door.draft.save(draft), { of: 'Hazel' });
    await context.route('**/sets', (route) => route.abort('failed'));
    expect(await send(page, set)).toMatchObject({ state: 'waiting' });
    await page.evaluate(() => (globalThis as InPage).door.signOut());
    expect(await signedIn(page)).toBeNull();
    await signIn(page, { gateway, passwords }, 'tobias');
    await openDoorIn(page, gateway);
    expect(await signedIn(page)).toMatchObject({ name: 'Tobias Reed' });
    await waitForCount(page, 1);
    expect(await mine(page)).toEqual([]);
    expect(await page.evaluate(() => (globalThis as InPage).door.draft.load())).toBeNull();
    const taken = await page.evaluate(
      (setId) => (globalThis as InPage).door.outbox.takeOut(setId),
      set.setId,
    );
    expect(taken).toBeNull();
    await context.unroute('**/sets');
    await page.evaluate(() => (globalThis as InPage).door.outbox.sendNow());
    await waitForCount(page, 0);
    expect(await submissionsOf(set.setId)).toEqual([
      { person: 'N-311', sent_by: 'N-318', holds_key: true },
    ]);
    await page.evaluate(() => (globalThis as InPage).door.signOut());
    await signIn(page, { gateway, passwords }, 'hazel');
    await openDoorIn(page, gateway);
    await signedIn(page);
    expect(await page.evaluate(() => (globalThis as InPage).door.draft.load())).toEqual({
      of: 'Hazel',
    });
    await context.close();
  });

  it('is not anybody’s to go on with after a sign-out that the gateway could not be told of', async () => {
    const page = await openAs('hazel');
    await page.context().setOffline(true);
    await page.evaluate(() => (globalThis as InPage).door.signOut());
    expect(await signedIn(page)).toBeNull();
    await page.context().setOffline(false);
    await openDoorIn(page, gateway);
    expect(await signedIn(page)).toBeNull();
    await page.goto(`${gateway.url}/desk`);
    expect(new URL(page.url()).pathname).toBe('/signin');
    await page.context().close();
  });

  it('is sent straight away when the device keeps nothing, and else said to be in the form only', async () => {
    const context = await browser.newContext();
    // Before anything is kept: what room there is, the browser remembers for a while.
    const devtools = await context.newCDPSession(await context.newPage());
    const quota = { origin: gateway.url, quotaSize: 1 };
    await devtools.send('Storage.overrideQuotaForOrigin', quota);
    const page = await openAs('hazel', context);
    const set = setOf(patient, [oxygen(88)]);
    expect(await send(page, set)).toMatchObject({ state: 'answered', status: 201 });
    await page.context().setOffline(true);
    const next = setOf(patient, [oxygen(87)]);
    expect(await send(page, next)).toEqual({ state: 'not-kept', why: 'storage-full' });
    await devtools.send('Storage.overrideQuotaForOrigin', { origin: gateway.url });
    expect(await send(page, next)).toEqual({ state: 'waiting', why: 'no-network' });
    await page.context().setOffline(false);
    await waitForCount(page, 0);
    await page.context().close();
  });

  it('can be read nowhere in what the browser keeps', async () => {
    const page = await openAs('hazel');
    await page.context().setOffline(true);
    await send(page, setOf(patient, [{ ...oxygen(86), note: 'Says she feels cold.' }]));
    await page.evaluate(() =>
      (globalThis as InPage).door.draft.save({ patient: 'LF-20417', born: '1958-11-02' }),
    );
    const kept = await page.evaluate(async () => {
      const words: string[] = [JSON.stringify(localStorage), JSON.stringify(sessionStorage)];
      const keys: boolean[] = [];
      const read = (value: unknown): string => {
        if (value instanceof CryptoKey) {
          keys.push(value.extractable);
          return 'key';
        }
        if (value instanceof ArrayBuffer) return new TextDecoder('latin1').decode(value);
        if (ArrayBuffer.isView(value)) return new TextDecoder('latin1').decode(value);
        if (typeof value !== 'object' || value === null) return String(value);
        return Object.entries(value)
          .map(([name, each]) => `${name}: ${read(each)}`)
          .join('\n');
      };
      const names: string[] = [];
      for (const { name = '' } of await indexedDB.databases()) {
        const database = await new Promise<IDBDatabase>((resolve) => {
          const opening = indexedDB.open(name);
          opening.onsuccess = () => {
            resolve(opening.result);
          };
        });
        for (const store of database.objectStoreNames) {
          names.push(store);
          const all = await new Promise<unknown[]>((resolve) => {
            const request = database.transaction(store).objectStore(store).getAll();
            request.onsuccess = () => {
              resolve(request.result as unknown[]);
            };
          });
          words.push(read(all));
        }
      }
      return { text: words.join('\n'), keys, names };
    });
    expect(kept.names.sort()).toEqual(['drafts', 'kept', 'keys', 'waiting']);
    expect(kept.keys).toEqual([false]);
    expect(kept.text.length).toBeGreaterThan(1_000);
    for (const word of [
      'LF-20417',
      '1958',
      'cold',
      'oxygen',
      'Hazel',
      'N-311',
      'eyJ',
      'urn:example',
    ]) {
      expect(kept.text).not.toContain(word);
    }
    await page.context().close();
  });

  it('survives the browser’s being killed, and a start without a network', async () => {
    const profile = mkdtempSync(join(tmpdir(), 'bedside-profile-'));
    const tablets: Tablet[] = [];
    const start = async (): Promise<Tablet> => {
      const tablet = await startTablet(profile);
      tablets.push(tablet);
      return tablet;
    };
    try {
      const before = await start();
      const page = await openAs('hazel', before.context);
      await before.context.setOffline(true);
      const set = setOf(patient, [oxygen(85)]);
      expect(await send(page, set)).toMatchObject({ state: 'waiting' });
      await page.evaluate(() => (globalThis as InPage).door.draft.save({ half: 'done' }));
      await before.kill();
      const after = await start();
      await serveDoor(after.context);
      await after.context.setOffline(true);
      const again = await after.context.newPage();
      await openDoorIn(again, gateway);
      expect(await signedIn(again)).toMatchObject({ saidBy: 'this-device', wasIdle: false });
      await waitForCount(again, 1);
      expect((await mine(again)).map(({ setId }) => setId)).toEqual([set.setId]);
      expect(await again.evaluate(() => (globalThis as InPage).door.draft.load())).toEqual({
        half: 'done',
      });
      await after.context.setOffline(false);
      await signIn(again, { gateway, passwords }, 'hazel');
      await openDoorIn(again, gateway);
      await signedIn(again);
      await waitForCount(again, 0);
      const [only, ...more] = await submissionsOf(set.setId);
      expect([only?.person, more.length]).toEqual(['N-311', 0]);
    } finally {
      for (const tablet of tablets) await tablet.kill();
      rmSync(profile, { recursive: true, force: true });
    }
  });
});
