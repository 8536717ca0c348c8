import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { prepareDemo } from '../../src/demo/prepare-demo.js';
import type { TestGateway } from './gateway.js';

/** Fills a test gateway with the wards of the demo. */
export async function fillWithDemo({ gateway, database }: TestGateway): Promise<void> {
  const dataDir = await mkdtemp(join(tmpdir(), 'demo-wards-'));
  await prepareDemo({ pool: database.pool, dataDir, pipelineAt: gateway.pipelineAt });
  await rm(dataDir, { recursive: true });
}
