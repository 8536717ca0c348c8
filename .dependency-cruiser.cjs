/** The layer rules of the house: data go one way, and each outside library has one door. */
const STAGES = 'intake|contract|normalise|rules|verdict|statistics';
const PURE = 'vitals|normalise|rules|verdict|statistics';

/** @param {string} library @param {string} door */
const onlyIn = (library, door) => ({
  name: `${library.replace(/\W/g, '-')}-only-in-${door}`,
  severity: 'error',
  comment: `${library} is spoken in src/${door} and nowhere else`,
  from: { path: '^src/', pathNot: `^src/${door}/` },
  to: { path: `node_modules/(@types/)?${library}/` },
});

module.exports = {
  forbidden: [
    { name: 'no-cycles', severity: 'error', from: {}, to: { circular: true } },
    {
      name: 'vitals-import-nothing-of-the-project',
      severity: 'error',
      from: { path: '^src/vitals/' },
      to: { path: '^src/', pathNot: '^src/vitals/' },
    },
    {
      name: 'stages-know-only-vitals',
      severity: 'error',
      from: { path: `^src/(${STAGES})/` },
      to: { path: '^src/', pathNot: ['^src/vitals/', '^src/$1/'] },
    },
    {
      name: 'store-knows-only-vitals-and-errors',
      severity: 'error',
      from: { path: '^src/store/' },
      to: { path: '^src/', pathNot: ['^src/(vitals|store)/', '^src/errors\\.ts$'] },
    },
    {
      name: 'pure-stages-import-no-node-module',
      severity: 'error',
      comment: 'They must give the same answer anywhere, also in a browser.',
      from: { path: `^src/(${PURE})/` },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'pure-stages-import-no-library-but-decimal',
      severity: 'error',
      from: { path: `^src/(${PURE})/` },
      to: { path: 'node_modules', pathNot: 'node_modules/decimal\\.js/' },
    },
    {
      name: 'nothing-imports-main',
      severity: 'error',
      from: {},
      to: { path: '^src/main\\.ts$' },
    },
    {
      name: 'the-gateway-knows-no-simulator',
      severity: 'error',
      comment: 'It is a sender like any other, and only its command starts it.',
      from: { path: '^src/', pathNot: '^src/(simulate|commands)/' },
      to: { path: '^src/simulate/' },
    },
    {
      name: 'serve-reaches-stages-only-through-the-pipeline',
      severity: 'error',
      from: { path: '^src/serve/' },
      to: { path: '^src/(intake|normalise|rules|verdict)/' },
    },
    {
      name: 'browser-code-knows-only-the-pure-stages',
      severity: 'error',
      comment:
        'It is loaded by browsers: what it shares with the gateway are the stages that are pure.',
      from: { path: '^src/browser/' },
      to: { path: '^src/', pathNot: `^src/(browser|${PURE})/` },
    },
    {
      name: 'browser-code-imports-no-node-module',
      severity: 'error',
      from: { path: '^src/browser/' },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'the-gateway-loads-no-browser-code',
      severity: 'error',
      comment: 'It serves it, bundled.',
      from: { path: '^src/', pathNot: '^src/browser/' },
      to: { path: '^src/browser/' },
    },
    onlyIn('pg', 'store'),
    onlyIn('express', 'serve'),
    onlyIn('ajv', 'contract'),
    onlyIn('@observablehq/plot', 'serve/pages/charts'),
    onlyIn('linkedom', 'serve/pages/charts'),
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsConfig: { fileName: 'tsconfig.json' },
    tsPreCompilationDeps: true,
  },
};
