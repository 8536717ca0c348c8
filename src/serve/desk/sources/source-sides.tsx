import { Sides } from '../parts/sides.js';

export const SOURCES_PATH = '/desk/sources';
export const DEVICES_PATH = `${SOURCES_PATH}/devices`;

export function SourceSides({ here }: { here: 'sources' | 'devices' }) {
  return (
    <Sides
      label="Senders"
      sides={[
        { href: SOURCES_PATH, label: 'Sources', isHere: here === 'sources' },
        { href: DEVICES_PATH, label: 'Devices', isHere: here === 'devices' },
      ]}
    />
  );
}
