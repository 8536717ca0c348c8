import type { ReviewReading } from '../../../store/review-readings.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { interpretationText, readingValue } from '../../pages/parts/words.js';
import { groundsOf, personName } from './row-facts.js';

interface HeldTableFacts {
  readonly readings: readonly ReviewReading[];
  readonly zone: string;
  /** Whoever may decide can mark several. */
  readonly canDecide: boolean;
  readonly caption: string;
}

export function readingAddress({ version }: ReviewReading): string {
  return `/desk/readings/${version.readingId}`;
}

function Urgency({ reading }: { reading: ReviewReading }) {
  return reading.critical ? <Mark tone="urgent">Critical</Mark> : <span class="soft">–</span>;
}

function Value({ reading }: { reading: ReviewReading }) {
  const { version } = reading;
  const said = interpretationText(version);
  return (
    <>
      <a class="reading-link" href={readingAddress(reading)}>
        {signText(version.vital)} <strong>{readingValue(version)}</strong>
      </a>
      <span class="under">
        {[version.method, said === 'usual' ? '' : said]
          .filter((word) => word !== null && word !== '')
          .map((word) => wordText(word ?? ''))
          .join(' · ')}
      </span>
    </>
  );
}

function Whose({ reading }: { reading: ReviewReading }) {
  const { version, registered } = reading;
  const name = personName(registered?.name);
  return (
    <>
      {registered === null ? <Mark tone="caution">Not registered</Mark> : name}
      <span class="under">{version.patient.identifier.value}</span>
    </>
  );
}

function Why({ reading }: { reading: ReviewReading }) {
  const [first, ...others] = groundsOf(reading);
  if (first === undefined) return <span class="soft">–</span>;
  return (
    <>
      {first.message}
      {others.length > 0 && <span class="under">and {others.length} more</span>}
    </>
  );
}

/** Where it stands, and what becomes of it if nobody decides. */
function Standing({ reading, zone }: { reading: ReviewReading; zone: string }) {
  const { version } = reading;
  if (version.hold === null) return <Mark>{version.status ?? version.verdict}</Mark>;
  if (version.status !== null) {
    return (
      <>
        <Mark tone="caution">Out, unconfirmed</Mark>
        <span class="under">
          since <Moment atMs={version.stampMs} zone={zone} />
        </span>
      </>
    );
  }
  if (version.holdUntilMs === null) {
    return (
      <>
        <Mark>Waiting</Mark>
        <span class="under">until its patient is settled</span>
      </>
    );
  }
  return (
    <>
      <Mark>Waiting</Mark>
      <span class="under">
        goes out <Moment atMs={version.holdUntilMs} zone={zone} />
      </span>
    </>
  );
}

function Row({
  reading,
  zone,
  canDecide,
}: Omit<HeldTableFacts, 'readings' | 'caption'> & { reading: ReviewReading }) {
  const { version } = reading;
  const mark = `${version.readingId} ${version.version}`;
  return (
    <tr class={reading.critical ? 'critical' : undefined} data-reading={version.readingId}>
      {canDecide && (
        <td class="pick">
          <input
            type="checkbox"
            name="reading"
            value={mark}
            form="together"
            aria-label={`Mark ${signText(version.vital)} ${readingValue(version)}`}
          />
        </td>
      )}
      <td>
        <Urgency reading={reading} />
      </td>
      <th scope="row">
        <Value reading={reading} />
      </th>
      <td>
        <Whose reading={reading} />
      </td>
      <td>
        {version.location ?? <span class="soft">–</span>}
        <span class="under">{version.source}</span>
      </td>
      <td>
        <Moment atMs={version.takenAt.epochMs} zone={zone} />
      </td>
      <td class="why">
        <Why reading={reading} />
      </td>
      <td>
        <Standing reading={reading} zone={zone} />
      </td>
    </tr>
  );
}

/** Readings in review, the most urgent first. */
export function HeldTable({ readings, zone, canDecide, caption }: HeldTableFacts) {
  if (readings.length === 0) return <p class="empty">Nothing here just now.</p>;
  return (
    <div class="table" role="region" aria-label={caption} tabIndex={0}>
      <table class="held">
        <caption class="unseen">{caption}</caption>
        <thead>
          <tr>
            {canDecide && (
              <th scope="col">
                <span class="unseen">Mark</span>
              </th>
            )}
            <th scope="col">Urgency</th>
            <th scope="col">Reading</th>
            <th scope="col">Patient</th>
            <th scope="col">Where</th>
            <th scope="col">Taken</th>
            <th scope="col">Why</th>
            <th scope="col">Stands</th>
          </tr>
        </thead>
        <tbody>
          {readings.map((reading) => (
            <Row key={reading.version.readingId} {...{ reading, zone, canDecide }} />
          ))}
        </tbody>
      </table>
    </div>
  );
}
