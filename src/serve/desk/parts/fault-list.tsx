import type { Fault } from '../../../vitals/shapes.js';
import { Notice } from '../../pages/parts/notice.js';

/** Every fault of what was sent in, each with its place. */
export function FaultList({ says, faults }: { says: string; faults: readonly Fault[] }) {
  return (
    <Notice kind="fault">
      {says}
      <ul>
        {faults.map(({ pointer, message }, index) => (
          <li key={index}>
            {pointer.startsWith('/') ? <code>{pointer}</code> : <strong>{pointer}</strong>}{' '}
            {message}
          </li>
        ))}
      </ul>
    </Notice>
  );
}
