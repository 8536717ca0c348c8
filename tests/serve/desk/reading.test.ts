import { hl7Time, sendMessage } from '../../setup/send-message.js';
import { openHeldWard } from '../../setup/held-ward.js';
import type { HeldWard } from '../../setup/held-ward.js';
import { auditRows } from '../../setup/audit-rows.js';
import { MRN } from '../../setup/example-sets.js';
import { visitAs } from '../../setup/people.js';
import type { Visitor } from '../../setup/people.js';

let ward: HeldWard;
let ines: Visitor;
let port: number;

beforeAll(async () => {
  ward = await openHeldWard({ MLLP_PORT: '0' });
  ines = await visitAs(ward.gateway, ward.passwords, 'ines');
  port = (await ward.gateway.gateway.listenForMessages()) ?? 0;
});
afterAll(() => ward.gateway.close());

async function pageOf(id: string): Promise<string> {
  const answer = await ines.get(`/desk/readings/${id}`);
  expect(answer.status).toBe(200);
  return answer.text();
}

/** What is marked in the bytes that are shown, in their order. */
function marked(html: string): string[] {
  return [...html.matchAll(/<mark id="sent-\d+"[^>]*>([^<]*)<\/mark>/g)].map(([, text]) =>
    (text ?? '').replaceAll('&quot;', '"').replaceAll('&amp;', '&'),
  );
}

async function newestOf(vital: string): Promise<string> {
  const { rows } = await ward.gateway.database.pool.query<{ id: string }>(
    'select reading_id as id from readings where vital = $1 order by stamp desc limit 1',
    [vital],
  );
  return rows[0]?.id ?? '';
}

describe('the page of one reading', () => {
  it('leads each part of a set back to the member that it was read from', async () => {
    const id = await ward.sendRareWeight();
    const sent = marked(await pageOf(id));
    expect(sent).toEqual(expect.arrayContaining(['"body-weight"', '"kg"']));
    expect(sent.some((text) => /^28\d$/.test(text))).toBe(true);
    expect(sent.some((text) => text.includes('LF-40001'))).toBe(true);
  });

  it('leads a reading of an HL7 v2 message back to the fields of its rows', async () => {
    const at = hl7Time(Math.floor(Date.now() / 1000) * 1000 - 60_000);
    await sendMessage(port, [
      `MSH|^~\\&|CUFF|LARK|||${hl7Time(Date.now())}||ORU^R01^ORU_R01|T-1|P|2.6|||AL|NE`,
      `PID|||LF-40001^^^&${MRN}&URI^MR||Aldous^Wren^^^^^L||19670321|F`,
      `OBR|1||T-1|182777000^monitoring of patient^SCT|||${at}`,
      `OBX|1|NM|150456^MDC_PULS_OXIM_SAT_O2^MDC|1.1.1.1|93|262688^MDC_DIM_PERCENT^MDC|||||F|||${at}`,
    ]);
    const html = await pageOf(await newestOf('oxygen-saturation'));
    expect(marked(html)).toEqual(
      expect.arrayContaining([
        '150456^MDC_PULS_OXIM_SAT_O2^MDC',
        '93',
        '262688^MDC_DIM_PERCENT^MDC',
        at,
      ]),
    );
    expect(html).toContain('OBX-5 (OBX 1)');
    expect(html).toContain('Read by the standard codes alone');
  });

  it('names the mapping by which a code of the sender was read, and says when it has changed', async () => {
    const at = hl7Time(Math.floor(Date.now() / 1000) * 1000 - 30_000);
    const token = await ward.gateway.token('admin');
    const { rows } = await ward.gateway.database.pool.query<{ id: string }>(
      `select source_id as id from submissions join sources using (source_key)
        where content_type like '%hl7%' order by submission_id desc limit 1`,
    );
    const mappings = `/admin/sources/${rows[0]?.id ?? ''}/mappings`;
    const force = async (code: string): Promise<void> => {
      const mapping = { codes: [{ code, vital: 'pulse-rate', method: 'palpation' }], units: [] };
      const { body } = await ward.gateway.ask<{ number: number }>(mappings, {
        token,
        body: { mapping, reason: 'As agreed' },
      });
      const forced = await ward.gateway.ask(`${mappings}/${body.number}/force`, {
        token,
        body: { reason: 'The codes of the ward', untried: true },
      });
      expect(forced.status).toBe(200);
    };
    await force('<WARD-PULSE>');
    await sendMessage(port, [
      `MSH|^~\\&|CUFF|LARK|||${hl7Time(Date.now())}||ORU^R01^ORU_R01|T-2|P|2.6|||AL|NE`,
      `PID|||LF-40001^^^&${MRN}&URI^MR||Aldous^Wren^^^^^L||19670321|F`,
      `OBR|1||T-2|182777000^monitoring of patient^SCT|||${at}`,
      `OBX|1|NM|<WARD-PULSE>^^L|1.1.1.1|72|264864^MDC_DIM_BEAT_PER_MIN^MDC|||||F|||${at}`,
    ]);
    const id = await newestOf('pulse-rate');
    const html = await pageOf(id);
    expect(html).toMatch(/Read by mapping 1 of/);
    expect(html).toContain('<code>&lt;WARD-PULSE></code>');
    await force('OTHER');
    expect(await pageOf(id)).toContain('Another was put in force since');
  });

  it('leads a reading of a FHIR Observation back to its elements', async () => {
    const token = await ward.gateway.token('system/Observation.c');
    const sent = await ward.gateway.ask('/fhir/Observation', {
      token,
      headers: { 'content-type': 'application/fhir+json' },
      body: {
        resourceType: 'Observation',
        status: 'final',
        category: [
          {
            coding: [
              {
                system: 'http://terminology.hl7.org/CodeSystem/observation-category',
                code: 'vital-signs',
              },
            ],
          },
        ],
        code: { coding: [{ system: 'http://loinc.org', code: '8310-5' }] },
        subject: { identifier: { system: MRN, value: 'LF-40001' } },
        effectiveDateTime: new Date(Date.now() - 60_000).toISOString(),
        valueQuantity: {
          value: 37.4,
          unit: 'Cel',
          system: 'http://unitsofmeasure.org',
          code: 'Cel',
        },
      },
    });
    expect(sent.status).toBe(201);
    const html = await pageOf(await newestOf('body-temperature'));
    expect(html).toContain('/valueQuantity');
    expect(marked(html).some((text) => text.includes('37.4'))).toBe(true);
  });

  it('shows what was sent as text that does nothing', async () => {
    const note = '</pre><script>alert(1)</script>\u202e';
    const weight = { vital: 'body-weight', value: 291, unit: 'kg', note };
    const { readings } = await ward.send([weight]);
    const html = await pageOf(readings[0]?.reading ?? '');
    expect(html).toContain('&lt;/pre>&lt;script>');
    expect(html).not.toMatch(/<script>|\u202e/);
  });

  it('is on record, by the patient', async () => {
    const id = await ward.sendRareWeight();
    await pageOf(id);
    const [row] = await auditRows(
      ward.gateway.database.pool,
      `action = 'desk-reading' and entity = $1`,
      [`readings/${id}`],
    );
    expect(row?.patient_key).not.toBeNull();
  });

  it.each(['/desk/readings/none', '/desk/readings/0197a0a0-0000-7000-8000-000000000001'])(
    'is not there for %s',
    async (path) => {
      expect((await ines.get(path)).status).toBe(404);
    },
  );

  it('assigns a reading whose patient was not known, and corrects to another patient', async () => {
    const unknown = { identifier: { system: MRN, value: 'LF-49999' }, birthDate: '1967-03-21' };
    const { readings } = await ward.send([{ vital: 'body-height', value: 171, unit: 'cm' }], {
      patient: unknown,
    });
    const id = readings[0]?.reading ?? '';
    const answer = await ines.post(`/desk/readings/${id}/decisions`, {
      action: 'assign',
      reasonCode: 'identity-confirmed',
      reason: 'Asked at the bed',
      expectedVersion: '1',
      patientSystem: MRN,
      patientValue: 'LF-40001',
      patientBorn: '1967-03-21',
    });
    expect([answer.status, answer.headers.get('location')]).toEqual([
      303,
      `/desk/readings/${id}?done=yes`,
    ]);
    const { rows } = await ward.gateway.database.pool.query(
      `select r.verdict, i.value from readings r join patient_identifiers i using (identifier_key)
        where r.reading_id = $1 and r.superseded is null`,
      [id],
    );
    expect(rows).toEqual([{ verdict: 'accepted', value: 'LF-40001' }]);
  });

  it('keeps what was put in when a correction is refused, and changes nothing', async () => {
    const id = await ward.sendRareWeight();
    const answer = await ines.post(`/desk/readings/${id}/decisions`, {
      action: 'correct',
      reasonCode: 'entry-error',
      reason: 'A word of mine & more',
      expectedVersion: '1',
      value: '9000',
      unit: 'kg',
    });
    const html = await answer.text();
    expect(answer.status).toBe(422);
    expect(html).toContain('A word of mine &amp; more');
    expect(html).toContain('value="9000"');
    const { rows } = await ward.gateway.database.pool.query(
      'select version from readings where reading_id = $1',
      [id],
    );
    expect(rows).toEqual([{ version: 1 }]);
  });
});
