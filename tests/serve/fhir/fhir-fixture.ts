import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import express from 'express';
import type { Bundle, FhirResource, Observation, OperationOutcome } from 'fhir/r4.js';
import { deliveryServices } from '../../../src/compose/fhir-deliveries.js';
import { composeStages } from '../../../src/judging.js';
import { Pipeline } from '../../../src/pipeline.js';
import type { DeliveryServices } from '../../../src/serve/fhir/delivery-services.js';
import { EditionShelf } from '../../../src/store/edition-shelf.js';
import { Names } from '../../../src/store/names.js';
import { SourceDirectory } from '../../../src/store/source-directory.js';
import { uuid7 } from '../../../src/store/uuid7.js';
import { mountAreas } from '../../../src/serve/http/mount-areas.js';
import { renderError } from '../../../src/serve/http/render-error.js';
import type { Look } from '../../../src/store/audit-looks.js';
import { fhirArea } from '../../../src/serve/fhir/routes.js';
import { insertRecords } from '../../../src/store/insert-records.js';
import type { TableRecord } from '../../../src/store/insert-records.js';
import { takeStamp } from '../../../src/store/publication-clock.js';
import {
  READING_RECORD_COLUMNS,
  insertNextVersions,
  loadRecords,
} from '../../../src/store/reading-records.js';
import { readingId } from '../../../src/store/reading-rows.js';
import { inTransaction } from '../../../src/store/transaction.js';
import type { DerivedValues } from '../../../src/vitals/shapes.js';
import type { Vital } from '../../../src/vitals/words.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';

/** What one test wants to say about a reading; the rest is a pulse of 72 that was accepted. */
export type ReadingWords = Partial<
  Record<
    | 'method'
    | 'site'
    | 'status'
    | 'hold'
    | 'verdict'
    | 'amount'
    | 'systolic'
    | 'diastolic'
    | 'mean'
    | 'absent'
    | 'code'
    | 'setId',
    string | null
  >
> & { readonly vital?: Vital; readonly at?: string; readonly derived?: DerivedValues | null };

export interface TestPatient {
  readonly id: string;
  readonly key: number;
  readonly identifierKey: number;
}

export type AnyBundle = Bundle<FhirResource>;

export interface Answer<T = FhirResource> {
  readonly status: number;
  readonly headers: Headers;
  readonly text: string;
  readonly body: T;
}

export const ALL_SCOPES = 'system/Observation.rs system/Patient.crus';

/** The FHIR side on a real socket over a database of its own, and a hand that writes readings. */
export class FhirFixture {
  readonly database: TestDatabase;
  readonly url: string;
  readonly registered: readonly number[];
  /** What the audit trail was told. */
  readonly looks: readonly Look[];
  readonly #stop: () => Promise<void>;

  private constructor(
    database: TestDatabase,
    url: string,
    { registered, looks }: Pick<FhirFixture, 'registered' | 'looks'>,
    stop: () => Promise<void>,
  ) {
    this.database = database;
    this.url = url;
    this.registered = registered;
    this.looks = looks;
    this.#stop = stop;
  }

  static async open(siteZone = 'Europe/Paris'): Promise<FhirFixture> {
    const database = await openTestDatabase();
    await database.pool.query("insert into sources (name, attended) values ('ward', true)");
    await database.pool.query(
      "insert into clients (client_id, name, secret_sha256, scopes, source_key) values ('c', 'c', '', '{}', 1)",
    );
    const app = express();
    const server = createServer(app);
    // A test may think between two requests for longer than the five seconds that are the default.
    server.keepAliveTimeout = 60_000;
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
    const registered: number[] = [];
    const looks: Look[] = [];
    const area = fhirArea({
      pool: database.pool,
      publicUrl: url,
      siteZone,
      onRegistered: (patientKey) => registered.push(patientKey),
      deliveries: deliveriesOf(database),
      subscriptions: {
        ...{ pool: database.pool, readers: database.pool, clock: Date.now },
        refusalOf: () => null,
        onChanged: () => undefined,
      },
    });
    const passing: express.RequestHandler = (_req, _res, next) => {
      next();
    };
    mountAreas(app, [area], {
      // The token of a test is the list of its scopes.
      identify: (authorization) => ({
        clientKey: 1,
        clientId: 'c',
        sourceKey: 1,
        source: 'ward',
        attended: true,
        secondIdentifierRequired: false,
        person: null,
        scopes: (authorization ?? '').replace(/^Bearer /, '').split(' '),
      }),
      findSignedIn: () => Promise.resolve(null),
      limits: { general: passing, check: passing, token: passing, 'look-up': passing },
      record: (look) => looks.push(look),
    });
    app.use(renderError(() => 'fhir'));
    const stop = async (): Promise<void> => {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
      await database.close();
    };
    return new FhirFixture(database, url, { registered, looks }, stop);
  }

  close(): Promise<void> {
    return this.#stop();
  }

  async ask<T = FhirResource>(
    path: string,
    options: RequestInit & { readonly scopes?: string } = {},
  ): Promise<Answer<T>> {
    const { scopes = ALL_SCOPES, headers, ...rest } = options;
    const address = path.startsWith('http') ? path : `${this.url}/fhir/${path}`;
    const response = await fetch(address, {
      ...rest,
      headers: { authorization: `Bearer ${scopes}`, ...(headers as Record<string, string>) },
    });
    const text = await response.text();
    const body = (text === '' ? {} : JSON.parse(text)) as T;
    return { status: response.status, headers: response.headers, text, body };
  }

  /** All pages of a search, from the first to the last; `between` runs after each. */
  async pages(path: string, between?: () => Promise<void>): Promise<AnyBundle[]> {
    const bundles: AnyBundle[] = [];
    let next: string | undefined = path;
    while (next !== undefined) {
      const { status, text, body }: Answer<AnyBundle> = await this.ask<AnyBundle>(next);
      if (status !== 200) throw new Error(`${next}: ${status} ${text}`);
      bundles.push(body);
      next = body.link?.find(({ relation }) => relation === 'next')?.url;
      await between?.();
    }
    return bundles;
  }

  /** A patient with one identifier; nobody has registered it. */
  async addPatient(value: string): Promise<TestPatient> {
    const id = uuid7();
    const { rows } = await this.database.pool.query<{ key: number; identifier_key: number }>(
      `with p as (insert into patients (patient_id) values ($1) returning patient_key)
       insert into patient_identifiers (system, value, patient_key)
       select 'urn:example:mrn', $2, patient_key from p
       returning patient_key as key, identifier_key`,
      [id, value],
    );
    const [row] = rows;
    if (row === undefined) throw new Error('no patient');
    return { id, key: row.key, identifierKey: row.identifier_key };
  }

  /** One commit with these readings; their ids. */
  async addReadings(patient: TestPatient, list: readonly ReadingWords[]): Promise<string[]> {
    const submission = uuid7().slice(0, -4) + '0000';
    return inTransaction(this.database.pool, async (client) => {
      const stamp = new Date(await takeStamp(client)).toISOString();
      const records = list.map((words, i) =>
        toRecord(patient, words, readingId(submission, i), stamp),
      );
      await insertRecords(client, 'readings', READING_RECORD_COLUMNS, records);
      return records.map(({ reading_id: id }) => String(id));
    });
  }

  /** From now on what is calculated is looked for: an edition has asked for it. */
  async switchDerivedOn(): Promise<void> {
    await this.database.pool.query(
      `update editions set configuration = '{"name": "x", "settings": {}, "derivedValues": {"enabled": true}}'`,
    );
  }

  async addReading(patient: TestPatient, words: ReadingWords = {}): Promise<string> {
    const [id] = await this.addReadings(patient, [words]);
    return id ?? '';
  }

  /** The next version of a reading, with these columns changed. */
  async change(id: string, columns: TableRecord): Promise<void> {
    await inTransaction(this.database.pool, async (client) => {
      const records = await loadRecords(client, [id]);
      const stampMs = await takeStamp(client);
      await insertNextVersions(
        client,
        records.map((record) => ({ ...record, ...columns })),
        stampMs,
      );
    });
  }
}

/** Taking Observations in over the fixture's database. */
function deliveriesOf({ pool }: TestDatabase): DeliveryServices {
  const names = new Names(pool);
  const nothing = (): void => undefined;
  const stages = composeStages({
    editions: new EditionShelf(),
    holdMinutes: { value: 60, unit: 15 },
    onRuleFailure: nothing,
    onSlowRule: nothing,
  });
  const events = { countSubmission: nothing, countJudged: nothing, observeCommit: nothing };
  const clock = Date.now;
  const pipeline = new Pipeline({ pool, names, stages, events, clock });
  const sources = new SourceDirectory(pool);
  return deliveryServices({ pool, names, stages, pipeline, sources, clock });
}

function toRecord(
  patient: TestPatient,
  words: ReadingWords,
  id: string,
  stamp: string,
): TableRecord {
  const { at = '2026-03-01T07:15:00Z', setId = null, vital = 'pulse-rate', ...said } = words;
  const value = vital === 'blood-pressure' || vital === 'consciousness' ? {} : { amount: '72' };
  return {
    patient_key: patient.key,
    identifier_key: patient.identifierKey,
    effective_at: at,
    stamp,
    reading_id: id,
    set_id: setId,
    source_key: 1,
    recorder_asserted: false,
    vital,
    verdict: 'accepted',
    status: 'final',
    version: 1,
    edition: 1,
    offset_minutes: 60,
    ...value,
    ...said,
  };
}

/** The Observations among the entries of bundles. */
export function observationsIn(bundles: readonly AnyBundle[]): Observation[] {
  return bundles.flatMap(({ entry = [] }) =>
    entry.flatMap(({ resource }) => (resource?.resourceType === 'Observation' ? [resource] : [])),
  );
}

export function idsIn(...bundles: readonly AnyBundle[]): string[] {
  return observationsIn(bundles).map(({ id = '' }) => id);
}

/** The outcomes among the entries of a bundle. */
export function outcomesIn({ entry = [] }: AnyBundle): OperationOutcome[] {
  return entry.flatMap(({ resource }) =>
    resource?.resourceType === 'OperationOutcome' ? [resource] : [],
  );
}
