import { inflateRawSync } from 'node:zlib';
import { oxygen, registerPatient, setOf } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';

let gateway: TestGateway;

beforeAll(async () => {
  gateway = await openTestGateway();
});

afterAll(() => gateway.close());

interface Line {
  status: number;
  body: { setId?: string; verdict?: string };
}

async function stream(lines: readonly Buffer[], token: string): Promise<Line[]> {
  const answer = await fetch(`${gateway.url}/sets`, {
    method: 'POST',
    headers: { authorization: `Bearer ${token}`, 'content-type': 'application/x-ndjson' },
    body: Buffer.concat(lines.flatMap((line) => [line, Buffer.from('\n')])),
  });
  const text = await answer.text();
  return text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Line);
}

describe('a stream of sets through the whole gateway', () => {
  it('keeps every line, answers in order, and lets bad lines and repeats stand between', async () => {
    const token = await gateway.token('sets.write');
    const patient = await registerPatient(gateway, 'LF-40077');
    const sets = Array.from({ length: 150 }, (_, i) => setOf(patient, [oxygen(95 + (i % 4))]));
    const lines = sets.map((set) => Buffer.from(JSON.stringify(set)));
    const [first] = lines;
    if (first === undefined) throw new Error('no line');
    const poisoned = [Buffer.from('{"setId":'), Buffer.from([0xc3, 0x28]), Buffer.from('[]')];
    const sent = [...lines.slice(0, 75), ...poisoned, ...lines.slice(75), first];
    const answers = await stream(sent, token);
    const good = sets.map(({ setId }) => ({ status: 201, setId }));
    const bad = poisoned.map(() => ({ status: 400, setId: undefined }));
    expect(answers.map(({ status, body: { setId } }) => ({ status, setId }))).toEqual([
      ...good.slice(0, 75),
      ...bad,
      ...good.slice(75),
      good[0],
    ]);
    const { rows } = await gateway.database.pool.query<{ content_type: string; body: Buffer }>(
      'select content_type, body from submissions order by received_at, submission_id',
    );
    expect(new Set(rows.map((row) => row.content_type))).toEqual(new Set(['application/x-ndjson']));
    const kept = rows.map((row) => inflateRawSync(row.body).toString('hex')).sort();
    const expected = [...lines, ...poisoned].map((line) => line.toString('hex')).sort();
    expect([...new Set(kept)]).toEqual(expected);
  });
});
