import { MRN } from '../../setup/example-sets.js';
import {
  breaths,
  decision,
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

const ACTIONS = ['release', 'correct', 'reject', 'withdraw', 'assign'] as const;
type Action = (typeof ACTIONS)[number];

const CRITICAL_PRESSURE = {
  vital: 'blood-pressure',
  method: 'auscultation',
  site: 'upper-arm',
  side: 'left',
  systolic: 262,
  diastolic: 112,
  unit: 'mm[Hg]',
};

/** Brings a reading of somebody new into a state; its right form is what a correction sends. */
interface Situation {
  readonly arrange: () => Promise<string>;
  readonly right: Json;
}

const SITUATIONS: Readonly<Record<string, Situation>> = {
  'held, unpublished': {
    arrange: async () => firstOf(await desk.send([height(236)])),
    right: height(176),
  },
  'held for identity': {
    arrange: async () =>
      firstOf(
        await desk.send([saturation(95)], { patient: { identifier: identifierOf(newNumber()) } }),
      ),
    right: saturation(93),
  },
  'held, published preliminary': {
    arrange: async () => firstOf(await desk.send([CRITICAL_PRESSURE])),
    right: { ...CRITICAL_PRESSURE, systolic: 126, diastolic: 74 },
  },
  'accepted, preliminary': {
    arrange: async () => firstOf(await desk.sendFrom(desk.monitorToken, [saturation(97)])),
    right: saturation(94),
  },
  'accepted, final': {
    arrange: async () => firstOf(await desk.send([breaths(15)])),
    right: breaths(19),
  },
  rejected: {
    arrange: async () => firstOf(await desk.send([saturation(104)])),
    right: saturation(94),
  },
  withdrawn: {
    arrange: async () => {
      const id = firstOf(await desk.send([breaths(13)]));
      await desk.decide(id, decision('withdraw', 1));
      return id;
    },
    right: breaths(14),
  },
};

/** The table of the published contract, §4: verdict and Observation status after each decision; null: 409. */
type Cell = readonly [verdict: string, status: string | null] | null;
const TABLE: Readonly<Record<string, Readonly<Record<Action, Cell>>>> = {
  'held, unpublished': {
    release: ['noted', 'final'],
    correct: ['accepted', 'final'],
    reject: ['rejected', null],
    withdraw: null,
    assign: null,
  },
  'held for identity': {
    // Of a patient whom nobody has registered nothing can be released.
    release: null,
    correct: ['held', null],
    reject: ['rejected', null],
    withdraw: null,
    assign: ['accepted', 'final'],
  },
  'held, published preliminary': {
    release: ['noted', 'final'],
    correct: ['accepted', 'final'],
    reject: ['rejected', 'entered-in-error'],
    withdraw: null,
    assign: null,
  },
  'accepted, preliminary': {
    release: ['accepted', 'final'],
    correct: ['accepted', 'final'],
    reject: ['rejected', 'entered-in-error'],
    withdraw: ['accepted', 'entered-in-error'],
    assign: null,
  },
  'accepted, final': {
    release: null,
    correct: ['accepted', 'corrected'],
    reject: null,
    withdraw: ['accepted', 'entered-in-error'],
    assign: null,
  },
  rejected: {
    release: null,
    correct: ['accepted', 'final'],
    reject: null,
    withdraw: null,
    assign: null,
  },
  withdrawn: { release: null, correct: null, reject: null, withdraw: null, assign: null },
};

async function content(action: Action, right: Json): Promise<Json> {
  if (action === 'correct') return { reading: right };
  if (action !== 'assign') return {};
  const somebody = await desk.patient();
  return { patient: { identifier: { system: MRN, value: somebody.number } } };
}

describe.each(Object.entries(SITUATIONS))('%s', (name, { arrange, right }) => {
  it.each(ACTIONS)('%s', async (action) => {
    const id = await arrange();
    const before = await desk.read(id);
    const out = await desk.published(id);
    const cell = TABLE[name]?.[action] ?? null;
    const { version } = before.body;
    expect(before.headers.get('etag')).toBe(`W/"${version}"`);
    const decided = await desk.decide(id, decision(action, version, await content(action, right)));
    const after = await desk.read(id);
    if (cell === null) {
      expect(decided.status).toBe(409);
      expect(decided.headers.get('content-type')).toBe('application/problem+json');
      expect(after.body).toEqual(before.body);
      expect(await desk.published(id)).toBe(out);
      return;
    }
    const [verdict, status] = cell;
    expect(decided.status).toBe(200);
    expect(decided.headers.get('etag')).toBe(`W/"${version + 1}"`);
    expect(decided.body).toMatchObject({ verdict, status, version: version + 1 });
    expect(after.body).toEqual(decided.body);
    expect(await desk.published(id)).toBe(status);
  });

  it('tells beforehand what is possible', async () => {
    const { body } = await desk.read(await arrange());
    const possible = ACTIONS.filter((action) => (TABLE[name]?.[action] ?? null) !== null);
    expect(body.allowedActions).toEqual(possible);
  });
});
