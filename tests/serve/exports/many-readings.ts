import type { Pool } from '../../../src/store/pool.js';

/**
 * Accepted readings written by one statement, seven a commit: oxygen saturation, pulse and blood pressure
 * by turns, of as many patients as there are hundreds of readings.
 */
export async function insertReadings(pool: Pool, count: number): Promise<void> {
  await pool.query(
    "insert into sources (name, attended) values ('many', true) on conflict do nothing",
  );
  await pool.query(
    `with p as (insert into patients (patient_id)
                select gen_random_uuid() from generate_series(1, $1::int / 100) returning patient_key)
     insert into patient_identifiers (system, value, patient_key)
     select 'urn:example:mrn', 'M-' || patient_key, patient_key from p`,
    [count],
  );
  await pool.query(
    `with i as (select identifier_key, patient_key, row_number() over (order by patient_key) - 1 as n
                  from patient_identifiers where value like 'M-%'),
          g as (select g, lpad(to_hex(1750000000000 + g), 12, '0') as h from generate_series(0, $1::int - 1) g)
     insert into readings (patient_key, identifier_key, effective_at, stamp, reading_id, source_key, vital,
                           method, site, verdict, status, version, edition, offset_minutes, amount, systolic,
                           diastolic, interpretation, findings)
     select i.patient_key, i.identifier_key, timestamptz '2025-06-15' + g.g * interval '1 second',
            timestamptz '2025-06-16' + (g.g / 7) * interval '1 millisecond',
            (left(g.h, 8) || '-' || right(g.h, 4) || '-7000-8000-000000000001')::uuid,
            (select source_key from sources where name = 'many'),
            (array['oxygen-saturation', 'pulse-rate', 'blood-pressure'])[g.g % 3 + 1]::vital,
            (array['pulse-oximetry', 'palpation', 'oscillometry'])[g.g % 3 + 1]::method,
            (array['finger', 'radial-artery', 'upper-arm'])[g.g % 3 + 1]::site,
            'accepted', 'final', 1, 1, 60,
            (array[97, 72, null])[g.g % 3 + 1], (array[null, null, 118])[g.g % 3 + 1],
            (array[null, null, 76])[g.g % 3 + 1],
            (array['N', 'N', 'N/N/-'])[g.g % 3 + 1],
            null
       from g join i on i.n = g.g / 100`,
    [count],
  );
  await pool.query('update publication_clock set last_stamp = (select max(stamp) from readings)');
  await pool.query('analyze readings');
}
