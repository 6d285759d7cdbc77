import type { Journey, Leg } from "../journey/journey.ts";
import type { WatchContext } from "./watch-context.ts";

const ADVICE =
  "Have the wheel transducers checked: they may be connected the wrong way round. The desk and the crew may not be told of its alarms.";

/** Direction contradicted by the sites beside it, from the first train on. Saying it twice changes nothing. Answers with the legs that are wrong. */
export function judgeDirection(context: WatchContext, journey: Journey, leg: Leg): Leg[] {
  const before = journey.legs[journey.legs.indexOf(leg) - 1];
  // A join can also show that the train's first pass had it wrong.
  const doubted = [before, leg].filter(
    (one): one is Leg => one?.directionDoubted === true && context.owned.has(one.pass.site) && isSaid(one),
  );
  for (const { pass, direction, join } of doubted) {
    context.book.raise({
      site: pass.site,
      device: pass.track,
      kind: "direction",
      atMs: leg.pass.endedMs,
      words: `${context.said.track(pass.site, pass.track)} reports trains in the wrong direction: pass ${pass.pass} said ${milepostsWords(pass.direction)}, the sites beside it say ${milepostsWords(direction)}.`,
      advice: ADVICE,
      evidence: `pass ${pass.id} ${join === null ? `joined by ${leg.pass.id}` : `joined from ${join.from}`}`,
    });
  }
  const { pass } = leg;
  if (!leg.directionDoubted && leg.join !== null && isSaid(leg) && context.owned.has(pass.site)) {
    context.book.clear(pass.site, pass.track, "direction", pass.endedMs, `pass ${pass.id} agrees with the sites beside it`);
  }
  return doubted;
}

/** A pass without its begin has the direction of the pass before it, which is our guess and not the site's word. */
function isSaid({ pass }: Leg): boolean {
  return !pass.flags.includes("no-begin");
}

function milepostsWords(direction: Leg["direction"]): string {
  return `${direction} mileposts`;
}
