/** Whatever stands in an element, a delivery is read or refused, and never thrown at. */
import fc from 'fast-check';
import { checkResource } from '../../../src/contract/check-resource.js';
import { OBSERVATION_ELEMENTS } from '../../../src/intake/fhir/observation-elements.js';
import { pressure, saturation } from './observation-of.js';
import { readAll } from './read-one.js';

const json = fc.jsonValue({ maxDepth: 4 });
const elements = OBSERVATION_ELEMENTS.map(({ element }) => element.split('.').at(-1) ?? '');

it('in an Observation', () => {
  fc.assert(
    fc.property(
      fc.constantFrom(saturation(), pressure(121, 77)),
      fc.dictionary(fc.constantFrom(...elements, 'valueQuantity'), json, { maxKeys: 3 }),
      (base, change) => {
        const resource = { ...base, ...change, resourceType: 'Observation' };
        if (checkResource('Observation', JSON.parse(JSON.stringify(resource))).length > 0) return;
        expect(readAll([{ resource }]).fates).toHaveLength(1);
      },
    ),
    { numRuns: 500 },
  );
});

it('in a resource that an Observation refers to, whose form nobody checks', () => {
  const names = [
    'identifier',
    'name',
    'birthDate',
    'parent',
    'source',
    'type',
    'extension',
    'category',
  ];
  const type = fc.constantFrom('Patient', 'Device', 'DeviceMetric', 'Practitioner', 'Encounter');
  fc.assert(
    fc.property(type, fc.dictionary(fc.constantFrom(...names), json), (resourceType, more) => {
      const resource = { ...more, resourceType };
      const reference = { reference: 'urn:uuid:odd' };
      const observed = saturation({
        subject: reference,
        device: reference,
        encounter: reference,
        performer: [reference],
      });
      const sent = [{ resource, fullUrl: 'urn:uuid:odd' }, { resource: observed }];
      expect(readAll(sent).fates).toHaveLength(2);
    }),
    { numRuns: 500 },
  );
});
