/** From what is asked to a report, with the people in it as the caller may see them. */
import type { SignedIn } from '../../http/route.js';
import { checkPersonAsked, namePeople } from './name-people.js';
import type { NamePerson } from './name-people.js';
import type { FiguresServices } from './services.js';

/** What every report of figures is asked for. */
interface Asked {
  readonly period: { readonly from: string; readonly to: string };
  readonly personId: string | undefined;
}

export type MakeReport<Report> = (
  services: FiguresServices,
  asked: unknown,
  caller: SignedIn,
) => Promise<Report>;

/**
 * The way to a report that no page goes round: who asks for one person must be one who may see people.
 * @param read the query as it was asked; throws for what cannot be understood
 */
export function reportMaker<Query extends Asked, Report>(
  read: (asked: unknown, services: FiguresServices) => Query,
  make: (services: FiguresServices, query: Query, namePerson: NamePerson) => Promise<Report>,
): MakeReport<Report> {
  return (services, asked, caller) => {
    const query = read(asked, services);
    checkPersonAsked(caller, query);
    const { from, to } = query.period;
    return make(services, query, namePeople(caller, `${from} ${to}`));
  };
}
