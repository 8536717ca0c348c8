/** An invented ward for the desk's pages: sets, messages and nonsense that were refused in every way. */
import { MRN, minutesAgo, oxygen, pressure, registerPatient, setOf } from './example-sets.js';
import { openTestGateway } from './gateway.js';
import type { TestGateway } from './gateway.js';
import { registerPeople } from './people.js';
import type { Passwords } from './people.js';
import { hl7Time, sendMessage } from './send-message.js';

export interface DeskWard {
  readonly gateway: TestGateway;
  readonly passwords: Passwords;
  /** Sends a set or anything else as the ward's tablets; resolves with the status. */
  readonly send: (body: unknown) => Promise<number>;
  /** Sends one HL7 v2 message; resolves with what is answered. */
  readonly sendMessage: (segments: readonly string[]) => Promise<string>;
}

/** A gateway with HL7 v2 and people who can sign in. */
export async function openDeskWard(env: Readonly<Record<string, string>> = {}): Promise<DeskWard> {
  const gateway = await openTestGateway(
    { MLLP_PORT: '0', SITE_ZONE: 'Europe/Vienna', ...env },
    { localSignIn: true },
  );
  const port = (await gateway.gateway.listenForMessages()) ?? 0;
  const passwords = await registerPeople(gateway);
  const token = await gateway.token('sets.write');
  return {
    gateway,
    passwords,
    send: async (body) => (await gateway.ask('/sets', { token, body })).status,
    sendMessage: (segments) => sendMessage(port, segments),
  };
}

/** A message with these OBX rows for a patient; form: IHE DEV TF-2 §3.1.4 (PCD-01). */
export function oruOf(controlId: string, patient: string, rows: readonly string[]): string[] {
  const at = hl7Time(Math.floor(Date.now() / 1000) * 1000 - 90_000);
  return [
    `MSH|^~\\&|LARKMON|LARKFIELD|||${hl7Time(Date.now())}||ORU^R01^ORU_R01|${controlId}|P|2.6|||AL|NE`,
    `PID|||${patient}^^^&${MRN}&URI^MR||Aldous^Wren^^^^^L||19670321|F`,
    `OBR|1||${controlId}|182777000^monitoring of patient^SCT|||${at}`,
    ...rows.map((row) => row.replaceAll('@', at)),
  ];
}

/** A saturation under a code and a unit that no standard knows. */
export const OWN_CODE_ROW =
  'OBX|1|NM|SAT9^Saturation of the ward^LARK|1.2.1.1|94|pct^percent^LARK|||||F|||@';

/** Text that would be markup, a formula, or a line of its own, if it were not shown as it is. */
export const HOSTILE = {
  place: '<img src=x onerror="document.title=1">/4',
  device: '=HYPERLINK("http://example.test","open")',
  note: '@SUM(1+1)\n"quoted", and more',
};

/** One of each: rejected by the rules in several ways, refused whole, unread; and some that stand. */
export async function fillDeskWard({ gateway, send, sendMessage }: DeskWard): Promise<void> {
  const patient = await registerPatient(gateway, 'DW-1');
  const other = await registerPatient(gateway, 'DW-2');
  const device = { identifier: { system: 'urn:example:device', value: HOSTILE.device } };
  await send(setOf(patient, [{ ...oxygen(97) }, pressure('oscillometry', 121, 78)]));
  await send(setOf(patient, [oxygen(250)], { location: 'larkfield/2' }));
  await send(
    setOf(patient, [{ ...oxygen(96), unit: 'volts', device, note: HOSTILE.note }], {
      location: HOSTILE.place,
    }),
  );
  await send(setOf(other, [pressure('auscultation', 70, 110)], { location: 'larkfield/3' }));
  await send('<html><script>document.title = "taken over"</script>');
  await send(setOf(patient, [], { takenAt: minutesAgo(3) }));
  await sendMessage(oruOf('DW-M1', 'DW-1', [OWN_CODE_ROW]));
  await sendMessage(['MSH|^~\\&|LARKMON|LARKFIELD|||20260301||ORU^R01|DW-M2|P|9.9']);
}
