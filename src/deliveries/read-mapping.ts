import { checkMappingProposal } from '../contract/compile.js';
import { readJson } from '../intake/set-json/read-json.js';
import type { ReadBody } from '../site-rules/read-rule-bodies.js';
import type { MappingProposal } from '../vitals/source-profile.js';

/** A body that proposes a mapping: read, or refused whole with every fault that it has. */
export function readMappingProposal(bytes: Buffer): ReadBody<MappingProposal> {
  const read = readJson(bytes);
  return read.ok ? checkMappingProposal(read.value) : read;
}
