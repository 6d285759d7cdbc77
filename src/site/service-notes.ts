import type { Journey, Leg } from "../journey/journey.ts";
import { lineBookOf } from "../line/line-book.ts";
import { passedOver } from "./passed-over.ts";
import type { Service } from "./service.ts";
import type { WatchContext } from "./watch-context.ts";

/**
 * What a train's people must know of sites out of service beside a pass: those that it ran over since the pass before, where it
 * was not measured, and the next ones, where it will not be. Sentences; none where nothing is out.
 */
export function serviceNotes(context: WatchContext, service: Service, journey: Journey, leg: Leg): string[] {
  if (service.isWhole) return [];
  const { railroad, said } = context;
  const { pass, direction } = leg;
  const behind = passedOver(railroad, journey, leg)
    .filter(({ site, tracks }) => isOutOnAll(service, site, tracks, pass.begunMs))
    .map(({ site }) => `${said.site(site)}, which the train ran over before, is out of service: it was not measured there.`);
  const ahead = lineBookOf(railroad)
    .of(pass.site, pass.endedMs)
    .ahead(pass.site, pass.track, direction, 1)
    .filter(({ site, tracks }) => isOutOnAll(service, site, tracks, pass.endedMs))
    .map(({ site }) => `${said.site(site)}, the next site, is out of service: the train will not be measured there.`);
  return [...behind, ...ahead];
}

/** Links that are looked along for sites out of service: a stretch of work takes two or three sites at once. */
const HOPS = 4;

/** Sites ahead of a pass that will not measure its train, being out of service on every track it may take. */
export function outAhead({ railroad }: WatchContext, service: Service, { pass, direction }: Leg): readonly string[] {
  if (service.isWhole) return NONE;
  const ways = lineBookOf(railroad).of(pass.site, pass.endedMs).ahead(pass.site, pass.track, direction, HOPS);
  const out = ways.filter(({ site, tracks }) => isOutOnAll(service, site, tracks, pass.endedMs));
  return out.length === 0 ? NONE : out.map(({ site }) => site);
}

const NONE: readonly string[] = [];

/** Whichever of the tracks the train takes. */
function isOutOnAll(service: Service, site: string, tracks: readonly string[], ms: number): boolean {
  return service.isOut(site, "", ms) || (tracks.length > 0 && tracks.every((track) => service.isOut(site, track, ms)));
}
