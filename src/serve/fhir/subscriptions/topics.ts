/** What can be subscribed to. FHIR R4 has no resource for a topic: the CapabilityStatement names them. */
import { OCCASIONS } from '../../../store/subscription-events.js';
import type { Occasion } from '../../../store/subscription-events.js';

export interface Topic {
  /** What it is kept by; never changed. */
  readonly name: string;
  readonly about: string;
  readonly occasions: readonly Occasion[];
}

export const TOPICS: readonly Topic[] = [
  {
    name: 'vital-sign-new',
    about: 'an Observation is published for the first time, also as preliminary',
    occasions: ['new'],
  },
  {
    name: 'vital-sign-corrected',
    about:
      'a later version is published that is no withdrawal: corrected, amended, released as final, or under the patient that a merge has left',
    occasions: ['corrected'],
  },
  {
    name: 'vital-sign-withdrawn',
    about: 'a published Observation becomes entered-in-error',
    occasions: ['withdrawn'],
  },
  {
    name: 'vital-sign-published',
    about: 'any version is published: all of the others, in one order',
    occasions: OCCASIONS,
  },
];

/** @param baseUrl base of the FHIR side */
export function topicUrl(baseUrl: string, name: string): string {
  return `${baseUrl}/SubscriptionTopic/${name}`;
}

/** The topic that a canonical names, also with a version after a bar; undefined: none of ours. */
export function topicOf(baseUrl: string, canonical: string): Topic | undefined {
  const [url] = canonical.split('|');
  return TOPICS.find(({ name }) => topicUrl(baseUrl, name) === url);
}

/** The topic of a kept subscription. @throws Error when a newer program has kept one that is not known here. */
export function topicNamed(name: string): Topic {
  const found = TOPICS.find((one) => one.name === name);
  if (found === undefined) throw new Error(`no topic is called ${name}`);
  return found;
}
