import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderShown } from '../../../src/serve/fhir/render-derived.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { EDITION_1 } from './golden/edition-1/versions.js';

const folder = join(__dirname, 'golden/edition-1');

describe('versions published under edition 1', () => {
  it('all have their bytes kept', () => {
    const files = readdirSync(folder).filter((name) => name.endsWith('.json'));
    expect(files).toEqual(
      Object.keys(EDITION_1)
        .map((name) => `${name}.json`)
        .sort(),
    );
  });

  it.each(Object.entries(EDITION_1))('%s: the same bytes for ever', (name, version) => {
    const kept = readFileSync(join(folder, `${name}.json`), 'utf8');
    expect(toFhirJson(renderShown(version))).toBe(kept);
    expect(resourceFaults(kept)).toEqual([]);
  });
});
