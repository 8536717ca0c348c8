/** What keeps a resource from being taken, for the OperationOutcome of its sender. */

/** Codes of the FHIR R4 code system `issue-type` that are used here. */
export type FaultCode =
  | 'structure'
  | 'required'
  | 'value'
  | 'invariant'
  | 'code-invalid'
  | 'extension'
  | 'not-supported'
  | 'not-found'
  | 'multiple-matches'
  | 'too-long'
  | 'business-rule';

export interface FhirFault {
  /** 400: no FHIR; 412: a condition met by several; 422: FHIR that cannot be carried. */
  readonly status: 400 | 412 | 422;
  readonly code: FaultCode;
  /** A sentence without values of the sender. */
  readonly text: string;
  /** Simple FHIRPath. */
  readonly expression: string;
}

/** Collects the faults of one resource; paths are told from its root. */
export class Faults {
  readonly list: FhirFault[] = [];
  readonly #root: string;

  /** @param root FHIRPath of the resource, such as `Bundle.entry[2].resource` */
  constructor(root: string) {
    this.#root = root;
  }

  /** @param path of the element within the resource; '' for the resource itself */
  refuse(path: string, code: FaultCode, text: string, status: FhirFault['status'] = 422): void {
    const expression = path === '' ? this.#root : `${this.#root}.${path}`;
    this.list.push({ status, code, text, expression });
  }
}
