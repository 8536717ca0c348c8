import { readConfig } from '../config/config.js';
import { ConfigError, StartError } from '../errors.js';
import { migrate } from '../store/migrate.js';

/** `npm run migrate`: brings the schema of DATABASE_SCHEMA in DATABASE_URL up to date. */
async function main(): Promise<void> {
  const { databaseUrl, databaseSchema } = readConfig(process.env);
  if (databaseUrl === undefined) {
    throw new ConfigError(
      'DATABASE_URL is not set; it must be the URL of the database to migrate ' +
        '(the embedded one is migrated by npm start).',
    );
  }
  const applied = await migrate(databaseUrl, databaseSchema);
  const outcome = applied.length === 0 ? 'nothing to do' : `applied ${applied.join(', ')}`;
  console.log(`Schema “${databaseSchema}” is up to date: ${outcome}.`);
}

try {
  await main();
} catch (error) {
  if (!(error instanceof StartError)) throw error;
  console.error(error.message);
  process.exitCode = 1;
}
