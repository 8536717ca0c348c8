/** Packages that are published as ES modules only; the test runner loads CommonJS. */
const esModules = [
  ...[
    'fhir-kit-client',
    'jose',
    'linkedom',
    'oauth4webapi',
    'openid-client',
    'preact',
    'preact-render-to-string',
    'uuid',
  ],
];

/** Tests run as CommonJS, so that no experimental flag of Node is needed. */
const swc = (module, tsx = false) => [
  '@swc/jest',
  {
    jsc: {
      target: 'es2022',
      parser: { syntax: 'typescript', tsx },
      transform: { react: { runtime: 'automatic', importSource: 'preact' } },
    },
    module,
    sourceMaps: 'inline',
  },
];

export default {
  testMatch: ['<rootDir>/tests/**/*.test.ts'],
  roots: ['<rootDir>/src', '<rootDir>/tests'],
  transform: {
    // The set-up runs outside the runner's own module loader and imports the built ES modules.
    '/tests/setup/global-.*\\.ts$': swc({ type: 'commonjs', ignoreDynamic: true }),
    '\\.[cm]?[jt]s$': swc({ type: 'commonjs' }),
    '\\.tsx$': swc({ type: 'commonjs' }, true),
  },
  transformIgnorePatterns: [`/node_modules/(?!(${esModules.join('|')})/)`],
  moduleNameMapper: {
    '^(\\.{1,2}/.*)\\.js$': ['$1.ts', '$1.tsx', '$1.js'],
    // Published for browsers in one file each, which spares the runner some two hundred modules.
    '^@observablehq/plot$': '<rootDir>/node_modules/@observablehq/plot/dist/plot.umd.min.js',
    '^d3@[\\d.]+/(.*)$': '<rootDir>/node_modules/d3/$1',
    '^linkedom$': '<rootDir>/node_modules/linkedom/worker.js',
    // Its manifest names no entry for `require`, which the runner looks for.
    '^fhir-kit-client$': '<rootDir>/node_modules/fhir-kit-client/dist/client.js',
  },
  globalSetup: '<rootDir>/tests/setup/global-setup.ts',
  globalTeardown: '<rootDir>/tests/setup/global-teardown.ts',
  reporters: ['default', '<rootDir>/tests/setup/closing-line.mjs'],
  maxWorkers: 2,
  testTimeout: 30_000,
};
