import { OPTIONS } from '../../src/simulate/option-table.js';
import { helpText, readOptions } from '../../src/simulate/options.js';

describe('the options of the simulator', () => {
  it('have defaults that fit together', () => {
    expect(readOptions([])).toMatchObject({
      devices: 12,
      rate: 2,
      seconds: 30,
      faults: 0.1,
      speak: ['json', 'hl7v2', 'fhir'],
      json: false,
    });
  });

  it('are read', () => {
    const line =
      '--devices 1000 --rate 100 --seconds 0 --faults 0 --seed 7 --speak fhir,json --kinds cuff --gateway https://gateway.example/base/ --mllp [::1]:2575 --json';
    expect(readOptions(line.split(' '))).toMatchObject({
      devices: 1000,
      rate: 100,
      seconds: 0,
      speak: ['fhir', 'json'],
      kinds: ['cuff'],
      gateway: 'https://gateway.example/base',
      mllp: { host: '::1', port: 2575 },
      json: true,
    });
  });

  it('are all in the help, with their defaults', () => {
    const help = helpText();
    for (const [name, option] of Object.entries(OPTIONS)) {
      expect(help).toContain(`--${name} `);
      if ('fallback' in option) expect(help).toContain(`[${option.fallback}]`);
    }
    expect(readOptions(['--help'])).toBeNull();
  });

  it.each([
    ['--rate fast', '--rate holds “fast”; it must be a number'],
    ['--rate 0', '--rate holds “0”'],
    ['--devices 1.5', '--devices holds “1.5”; it must be a whole number'],
    ['--devices 0', '--devices holds “0”'],
    ['--faults 2', '--faults holds “2”; it must be a number from 0 to 1'],
    ['--speak json,morse', '--speak holds “json,morse”; it must be some of json, hl7v2, fhir'],
    ['--fault-kinds gremlin', '--fault-kinds holds “gremlin”'],
    ['--gateway localhost', '--gateway holds “localhost”; it must be an http or https URL'],
    ['--mllp 2575', '--mllp holds “2575”; it must be a host and a port'],
    ['--rate 100', '--rate 100 is too much for 12 devices'],
    ['--certificate ward.pem', '--certificate and --key are given together or not at all'],
    ['--frequency 3', '--frequency'],
    ['--rate', '--rate'],
    ['now', 'now'],
  ])('that are wrong get one sentence: %s', (line, words) => {
    const read = (): unknown => readOptions(line.split(' '));
    expect(read).toThrow(words);
    expect(read).toThrow(/^[^\n]+\.$/);
  });
});
