import {
  breaths,
  decision,
  firstOf,
  height,
  openReviewDesk,
  saturation,
  weight,
} from './review-desk.js';
import type { Json, ReviewDesk } from './review-desk.js';
import { auditRows } from '../../setup/audit-rows.js';

let desk: ReviewDesk;
beforeAll(async () => {
  desk = await openReviewDesk();
});
afterAll(() => desk.gateway.close());

async function count(table: string): Promise<number> {
  const { rows } = await desk.gateway.database.pool.query<{ count: number }>(
    `select count(*)::int as count from ${table}`,
  );
  return rows[0]?.count ?? 0;
}

describe('a decision on a version that is no longer the newest', () => {
  it('gets 409, changes nothing, and is kept', async () => {
    const id = firstOf(await desk.send([breaths(16)]));
    await desk.decide(id, decision('correct', 1, { reading: breaths(17) }));
    const before = await desk.read(id);
    const stale = await desk.decide(id, decision('withdraw', 1));
    expect(stale.status).toBe(409);
    expect(stale.body).toMatchObject({
      status: 409,
      detail: expect.stringContaining('version 2') as string,
    });
    expect((await desk.read(id)).body).toEqual(before.body);
    const kept = await desk.ask<{ submissions: readonly Json[] }>(
      '/review/submissions?kind=decision&limit=1',
    );
    expect(kept.body.submissions).toMatchObject([{ status: 409, source: 'analysts' }]);
  });

  it('lets exactly one of many analysts win, whatever each of them wants', async () => {
    const id = firstOf(await desk.send([height(237)]));
    const wishes = [
      decision('release', 1),
      decision('reject', 1),
      decision('correct', 1, { reading: height(173) }),
      decision('release', 1),
      decision('correct', 1, { reading: height(174) }),
      decision('reject', 1),
    ];
    const answers = await Promise.all(wishes.map((wish) => desk.decide(id, wish)));
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409, 409, 409, 409, 409]);
    const { body } = await desk.read(id);
    expect(body.version).toBe(2);
    expect(body.history).toHaveLength(2);
    expect(body.decisions).toHaveLength(1);
    const won = answers.findIndex(({ status }) => status === 200);
    expect(body.decisions[0]?.action).toBe(wishes[won]?.action);
  });
});

describe('a correction', () => {
  it('that the rules reject gets 422 with what they said, and changes nothing', async () => {
    const id = firstOf(await desk.send([breaths(16)]));
    const before = [await desk.read(id), await count('readings'), await count('decisions')];
    const answer = await desk.decide(id, decision('correct', 1, { reading: breaths(160) }));
    expect(answer.status).toBe(422);
    expect(answer.headers.get('content-type')).toBe('application/problem+json');
    expect(answer.body.findings.map(({ rule }) => rule)).toEqual(['value-impossible']);
    expect((await desk.read(id)).body).toEqual((before[0] as { body: unknown }).body);
    expect([await count('readings'), await count('decisions')]).toEqual(before.slice(1));
  });

  it('keeps every version as it was', async () => {
    const set = { position: 'semi-recumbent', takenAt: '2026-04-02T21:40:00+05:30' };
    const id = firstOf(await desk.send([breaths(18, { note: 'asleep' })], set));
    const first = (await desk.read(id)).body;
    await desk.decide(id, decision('correct', 1, { reading: breaths(21) }));
    await desk.decide(id, decision('withdraw', 2, { reasonCode: 'duplicate' }));
    const { body } = await desk.read(id);
    expect(body.history.map(({ version, value, status }) => [version, value, status])).toEqual([
      [1, 18, 'final'],
      [2, 21, 'corrected'],
      [3, 21, 'entered-in-error'],
    ]);
    const [oldest, middle, newest] = body.history;
    expect({ ...first.history[0], supersededAt: null }).toEqual({ ...oldest, supersededAt: null });
    expect(oldest?.supersededAt).not.toBeNull();
    expect(newest?.supersededAt).toBeNull();
    // What a correction does not name stays as the set told it, but not what the reading itself said.
    expect(middle).toMatchObject({
      position: 'semi-recumbent',
      takenAt: '2026-04-02T21:40:00+05:30',
      note: null,
    });
  });

  it('of circumstances alone amends, and one that changes nothing is refused', async () => {
    const id = firstOf(await desk.send([breaths(14)]));
    const same = await desk.decide(id, decision('correct', 1, { reading: breaths(14) }));
    expect(same.status).toBe(409);
    const noted = breaths(14, { note: 'after walking', position: 'standing' });
    const amended = await desk.decide(id, decision('correct', 1, { reading: noted }));
    expect(amended.body).toMatchObject({ status: 'amended', position: 'standing', value: 14 });
  });

  it('says "not measured" as such, and calls corrected only what was once final', async () => {
    const absent = { vital: 'body-weight', absent: 'refused' };
    const first = firstOf(await desk.send([absent]));
    expect(await desk.published(first)).toBe('cancelled');
    await desk.decide(first, decision('correct', 1, { reading: weight(71.4) }));
    expect(await desk.published(first)).toBe('final');
    await desk.decide(first, decision('correct', 2, { reading: absent }));
    expect(await desk.published(first)).toBe('cancelled');
    await desk.decide(first, decision('correct', 3, { reading: weight(70.9) }));
    expect(await desk.published(first)).toBe('corrected');
  });

  it('of a rejected reading needs the whole reading, not the patient alone', async () => {
    const id = firstOf(await desk.send([{ ...saturation(96), unit: 'percent' }]));
    const somebody = await desk.patient();
    const patient = { identifier: { system: 'urn:example:mrn', value: somebody.number } };
    const answer = await desk.decide(id, decision('correct', 1, { patient }));
    expect(answer.status).toBe(409);
    expect(await desk.published(id)).toBeNull();
  });
});

describe('what is no decision', () => {
  it('is answered with every fault and its place', async () => {
    const id = firstOf(await desk.send([breaths(15)]));
    const answer = await desk.decide(id, { action: 'release', reason: '', expectedVersion: '1' });
    expect(answer.status).toBe(400);
    const { errors } = answer.body as unknown as { errors: { pointer: string }[] };
    // The last is for the whole of it: it lacks a member.
    expect(errors.map(({ pointer }) => pointer).sort()).toEqual([
      '',
      '/expectedVersion',
      '/reason',
    ]);
  });

  it.each(['0190a0a0-0000-7000-8000-000000000001', 'no-id', '%27'])(
    'about the reading %s gets 404',
    async (id) => {
      const answer = await desk.decide(id, decision('release', 1));
      expect([answer.status, answer.headers.get('content-type')]).toEqual([
        404,
        'application/problem+json',
      ]);
      expect((await desk.read(id)).status).toBe(404);
    },
  );

  it('needs the scope to write, and reading the scope to read', async () => {
    const id = firstOf(await desk.send([height(238)]));
    const reader = await desk.gateway.token('review.read');
    expect((await desk.decide(id, decision('release', 1), reader)).status).toBe(403);
    const sender = await desk.gateway.token('sets.write sets.check admin metrics.read');
    for (const path of ['readings', `readings/${id}`, 'summary', 'submissions']) {
      const answer = await desk.gateway.ask(`/review/${path}`, { token: sender });
      expect([path, answer.status]).toEqual([path, 403]);
      expect((await desk.gateway.ask(`/review/${path}`)).status).toBe(401);
    }
  });
});

describe('what is on record of a decision', () => {
  it('who, when, what, why, from which version to which', async () => {
    const id = firstOf(await desk.send([height(239)]));
    const reason = 'Measured again: 139.';
    const given = { reason, reasonCode: 'entry-error', reading: height(139) };
    await desk.decide(id, decision('correct', 1, given));
    const { body } = await desk.read(id);
    expect(body.state).toBe('decided');
    expect(body.decisions).toEqual([
      {
        action: 'correct',
        reason,
        reasonCode: 'entry-error',
        client: expect.any(String) as string,
        person: null,
        fromVersion: 1,
        toVersion: 2,
        decidedAt: body.changedAt,
        submission: expect.any(String) as string,
        newReading: null,
      },
    ]);
    const bytes = await desk.ask(
      `/review/submissions/${String(body.decisions[0]?.submission)}/raw`,
    );
    expect(JSON.parse(bytes.text)).toMatchObject(given);
    const { pool } = desk.gateway.database;
    const rows = await auditRows(pool, 'entity = $1', [`readings/${id}`], 2);
    expect(rows.map(({ action, outcome, detail }) => ({ action, outcome, detail }))).toEqual([
      { action: 'decision-correct', outcome: 200, detail: null },
      { action: 'review-read', outcome: 200, detail: null },
    ]);
  });
});
