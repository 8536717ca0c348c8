/** A source as its administrator sees it. */
import type { SourceClock } from '../../store/source-clocks.js';
import type { SourceHealth } from '../../store/source-health.js';
import type { SourceRecord } from '../../store/sources.js';
import { isoTime, seconds, SECONDS_OR_NULL, TEXT_OR_NULL, TIME, TIME_OR_NULL } from './answers.js';

const NOTHING = { accepted: 0, noted: 0, held: 0, rejected: 0 };

export function renderSource(
  source: SourceRecord,
  health: SourceHealth | undefined,
  clock: SourceClock | undefined,
): object {
  const { application, facility, certificateSha256 } = source;
  const heardMs = Math.max(health?.lastHeardMs ?? 0, clock?.seenAtMs ?? 0);
  return {
    source: source.sourceId,
    name: source.name,
    attended: source.attended,
    secondIdentifierRequired: source.secondIdentifierRequired,
    zone: source.zone,
    synchronised: source.synchronised,
    peer: application === null ? null : { application, facility },
    certificate: certificateSha256 === null ? null : { sha256: certificateSha256 },
    defaultAuthority: source.defaultAuthority,
    authorities: source.authorities,
    builtIn: source.builtIn,
    createdAt: isoTime(source.createdAtMs),
    disabledAt: isoTime(source.disabledAtMs),
    health: {
      lastHeard: heardMs === 0 ? null : isoTime(heardMs),
      clockAheadSeconds: seconds(clock?.skewMs ?? null),
      lastDay: health?.lastDay ?? NOTHING,
    },
  };
}

const COUNT = { type: 'integer', minimum: 0 };

export const SOURCE_SCHEMA = {
  type: 'object',
  required: ['source', 'name', 'attended', 'health'],
  properties: {
    source: { type: 'string', format: 'uuid' },
    name: { type: 'string' },
    attended: { type: 'boolean' },
    secondIdentifierRequired: { type: 'boolean' },
    zone: TEXT_OR_NULL,
    synchronised: { type: 'boolean' },
    peer: {
      type: ['object', 'null'],
      required: ['application', 'facility'],
      properties: { application: { type: 'string' }, facility: TEXT_OR_NULL },
    },
    certificate: {
      type: ['object', 'null'],
      required: ['sha256'],
      properties: { sha256: { type: 'string', pattern: '^[0-9a-f]{64}$' } },
    },
    defaultAuthority: TEXT_OR_NULL,
    authorities: { type: 'object', additionalProperties: { type: 'string' } },
    builtIn: {
      type: 'boolean',
      description: 'It came with the gateway: name, attendance and peer stay as they are.',
    },
    createdAt: TIME,
    disabledAt: TIME_OR_NULL,
    health: {
      type: 'object',
      required: ['lastHeard', 'clockAheadSeconds', 'lastDay'],
      properties: {
        lastHeard: { ...TIME_OR_NULL, description: 'Null: not within a week.' },
        clockAheadSeconds: {
          ...SECONDS_OR_NULL,
          description:
            'Time of sending minus time of receipt, the greatest of the last 20 messages; null: none told a time.',
        },
        lastDay: {
          type: 'object',
          description: 'Readings judged in the last 24 hours, by verdict.',
          properties: { accepted: COUNT, noted: COUNT, held: COUNT, rejected: COUNT },
        },
      },
    },
  },
};
