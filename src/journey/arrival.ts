import type { Pass } from "../pass/pass.ts";
import { LEAST_VEHICLE_AXLES } from "./alignment.ts";
import type { Expected, ExpectedAt } from "./expected.ts";
import type { Fingerprint } from "./fingerprint.ts";
import type { OpenJourney } from "./open-journey.ts";
import type { Route } from "./route.ts";
import type { JoinSettings } from "./settings.ts";

/** How likely it is to take so long, natural logarithms (assumptions). */
const TOO_FAST_NATS = -8;
/** Mean speed is about two thirds of the fastest, and scatters by this much (standard deviation of the logarithm). */
const USUAL_SLOWNESS = 1.5;
const SPEED_SCATTER = 0.45;
/** A train held on the way, and what each further hour costs. */
const HELD_NATS = -2.5;
const HELD_HOUR_NATS = -0.25;
/** A train that works on the way, or waits for another one, is still due for so long (assumption); one held for longer has most likely been yarded. */
const DUE_HOURS = 3;

const HOUR_MS = 3_600_000;

/** What it took from the last leg to here. */
export interface Travel {
  hours: number;
  nats: number;
  tooFast: boolean;
}

/** A way on which a journey may have come here in that time, its cars being such as could be those of the pass. */
export interface Arrival {
  open: OpenJourney;
  route: Route;
  travel: Travel;
}

/** Adds the arrivals of one journey by the routes it has to the site of the pass; `print` is that of the pass. */
export function arrivalsOf(
  { open, place, routes }: Expected,
  board: ExpectedAt,
  pass: Pass,
  print: Fingerprint,
  settings: JoinSettings,
  out: Arrival[],
): void {
  const lastBegunMs = board.lastBegunMs(place);
  const lastEndedMs = board.lastEndedMs(place);
  let could: boolean | null = null;
  for (let i = 0; i < routes.length; i++) {
    const route = routes[i]!;
    const hours = travelHours(lastBegunMs, lastEndedMs, pass, route, settings);
    if (Number.isNaN(hours)) continue;
    could ??= board.couldMatch(place, print) && open.journey.legs.length < settings.mostLegs;
    if (!could) return;
    out.push({ open, route, travel: travelOf(route, hours, settings) });
  }
}

/**
 * Hours from the last leg to the pass, head to head; of a train that turned back, from when its tail was past. NaN: no train
 * does it in that time.
 */
function travelHours(lastBegunMs: number, lastEndedMs: number, pass: Pass, route: Route, settings: JoinSettings): number {
  if ((pass.endedMs - lastEndedMs) / HOUR_MS > route.longestHours) return Number.NaN;
  const turned = isTurned(route);
  const hours = (pass.begunMs - (turned ? lastEndedMs : lastBegunMs)) / HOUR_MS;
  const fastest = fastestOf(route, settings);
  if (hours < fastest && (turned || hours < fastest - settings.clockSlackMinutes / 60)) return Number.NaN;
  return hours;
}

function travelOf(route: Route, hours: number, settings: JoinSettings): Travel {
  const tooFast = hours < fastestOf(route, settings);
  if (isTurned(route)) return { hours, nats: HELD_HOUR_NATS * hours, tooFast };
  const z = Math.log(Math.max(hours, 0.01) / (USUAL_SLOWNESS * route.fastestHours)) / SPEED_SCATTER;
  const nats = Math.max(-0.5 * z * z, HELD_NATS + HELD_HOUR_NATS * Math.max(0, hours));
  return { hours, nats: tooFast ? TOO_FAST_NATS : nats, tooFast };
}

function isTurned({ kind }: Route): boolean {
  return kind === "back" || kind === "behind";
}

function fastestOf(route: Route, settings: JoinSettings): number {
  return route.fastestHours * settings.fastestShare - settings.clockMinutes / 60;
}

/** Comes from the neighbouring site, and not so late that it had to be held on the way. */
export function isDue({ route, travel }: Arrival): boolean {
  return route.kind === "ahead" && route.over.length === 0 && !travel.tooFast && travel.hours <= route.fastestHours + DUE_HOURS;
}

/** A train that went the other way here not long ago, with as many axles but for some miscounted ones: it may have come back. */
export function mayBeBack({ open, route, travel }: Arrival, pass: Pass): boolean {
  if (route.kind !== "back" || travel.hours > DUE_HOURS) return false;
  return Math.abs(pass.axles - open.roster.axles.length) < LEAST_VEHICLE_AXLES;
}
