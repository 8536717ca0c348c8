import { BODY_SITE } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const siteUnclear = reportRule('site-unclear', HELD, {
  words: 'Where on the body it was measured is not clear, and what is usual depends on it.',
  clause: () => 'where on the body it was measured is not clear, and what is usual depends on it',
  advice: 'See where the sensor is, and have the message name the site or the code of that site.',
  source: BODY_SITE,
});
