/** Extensions: those that are read, and the refusal of all others wherever they stand. */
import type { Extension } from 'fhir/r4.js';
import type { Faults } from './fhir-fault.js';

const CORE = 'http://hl7.org/fhir/StructureDefinition/';
const PHD = 'http://hl7.org/fhir/uv/phd/StructureDefinition/';

/** FHIR R4 core, and HL7 Personal Health Device Implementation Guide (R4). */
export const EXTENSIONS = {
  position: `${CORE}observation-bodyPosition`,
  gatewayDevice: `${CORE}observation-gatewayDevice`,
  stamp: `${PHD}CoincidentTimeStampReference`,
  accuracy: `${PHD}Accuracy`,
  confidence: `${PHD}Confidence95`,
  alerting: `${PHD}SimpleAlerting`,
} as const;
export type ExtensionName = keyof typeof EXTENSIONS;

/** The extension of that name, if it is there. */
export function extensionOf(
  { extension = [] }: { readonly extension?: readonly Extension[] | undefined },
  name: ExtensionName,
): Extension | undefined {
  return extension.find(({ url }) => url === EXTENSIONS[name]);
}

/**
 * Refuses each extension that is not read here: an unknown one could be passed over (R4, Extensibility),
 * but then what it says of a reading would be lost.
 * @param value an Observation whose form was checked
 */
export function refuseExtensions(value: object, faults: Faults): void {
  for (const [name, child] of Object.entries(value)) {
    // The narrative is markup, and what is contained is read for itself.
    if (name === 'text' || name === 'contained') continue;
    if (name === 'extension') refuseUnknown(child as readonly Extension[], '', faults);
    else if (name === 'component') {
      (child as readonly object[]).forEach((component, i) => {
        refuseInComponent(component, `component[${i}]`, faults);
      });
    } else refuseWithin(name, child, name, faults);
  }
}

function refuseInComponent(component: object, path: string, faults: Faults): void {
  for (const [name, child] of Object.entries(component)) {
    if (name === 'extension') refuseUnknown(child as readonly Extension[], `${path}.`, faults);
    else refuseWithin(name, child, `${path}.${name}`, faults);
  }
}

function refuseUnknown(list: readonly Extension[], before: string, faults: Faults): void {
  const known: readonly string[] = Object.values(EXTENSIONS);
  const seen = new Set<string>();
  list.forEach(({ url }, i) => {
    if (known.includes(url) && !seen.has(url)) seen.add(url);
    else refuse(`${before}extension[${i}]`, faults);
  });
}

/** Below the elements that have extensions of their own none is read. */
function refuseWithin(name: string, value: unknown, path: string, faults: Faults): void {
  if (name === 'extension' || name === 'modifierExtension' || name.startsWith('_')) {
    // The one of the Observation itself is refused by the table of elements.
    if (path !== 'modifierExtension' && !/^component\[\d+\]\.modifierExtension$/.test(path)) {
      refuse(path, faults);
    }
    return;
  }
  if (typeof value !== 'object' || value === null) return;
  if (Array.isArray(value)) {
    value.forEach((item, i) => {
      refuseWithin('', item, `${path}[${i}]`, faults);
    });
    return;
  }
  for (const [inner, child] of Object.entries(value)) {
    refuseWithin(inner, child, `${path}.${inner}`, faults);
  }
}

function refuse(path: string, faults: Faults): void {
  const text = `${path} is an extension that is not read here, and what it says would be lost.`;
  faults.refuse(path.replaceAll('._', '.').replace(/^_/, ''), 'extension', text);
}
