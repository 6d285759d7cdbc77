import type { Railroad } from "../line/railroad.ts";
import { Agenda } from "./agenda.ts";
import { Departures, WantedDeparture } from "./departures.ts";
import { Dispatcher } from "./dispatch.ts";
import type { FeedText } from "./feed-text.ts";
import { stream } from "./random.ts";
import { Fixed, functionalTest, Heartbeats, malformedRecords } from "./reports.ts";
import { routesOf } from "./route.ts";
import type { Scenario } from "./scenario.ts";
import type { Yard } from "./train-run.ts";
import type { Truth } from "./truth.ts";
import { Wayside } from "./wayside.ts";
import { type World, type WorldName, worldOf } from "./worlds.ts";

const HOUR_MS = 3_600_000;
const DEFAULT_START = "2026-03-04T00:00:00.000Z";
const DEFAULT_TRAINS_PER_DAY = 70;

export interface SimulateOptions {
  railroad: Railroad;
  seed: number;
  hours: number;
  world: WorldName | World;
  /** Fixes trains, faults and tests; its own seed, start, hours and world stand behind those given here only in `ofScenario`. */
  scenario?: Scenario | undefined;
  trainsPerDay?: number | undefined;
  startMs?: number | undefined;
  /** Axles a record, at every site; left out: each site has its own. */
  group?: number | undefined;
  /** No heartbeats: for runs that look only at bearings. */
  quiet?: boolean | undefined;
  /** Hears what really happened, as it happens. */
  tell?: ((truth: Truth) => void) | undefined;
}

/** Options that a scenario stands for. */
export function ofScenario(railroad: Railroad, scenario: Scenario): SimulateOptions {
  const world: World = { ...worldOf(scenario.world), ...changesOf(scenario) };
  const { seed, hours, trainsPerDay } = scenario;
  return { railroad, seed, hours, world, scenario, trainsPerDay, startMs: Date.parse(scenario.start) };
}

function changesOf(scenario: Scenario): Partial<World> {
  const usual = worldOf(scenario.world) as unknown as Record<string, unknown>;
  for (const key of Object.keys(scenario.changes)) {
    if (typeof usual[key] !== "number") throw new RangeError(`SIM-008 a world has no number "${key}"; see worlds.ts`);
  }
  return scenario.changes as Partial<World>;
}

/**
 * A simulated feed in the order of arrival, record by record; memory is bounded by the trains on the way. The same
 * options give the same records. Ends when all that was sent up to the end has arrived.
 */
export function* simulate(options: SimulateOptions): Generator<FeedText, void, void> {
  const { railroad, seed, hours, scenario } = options;
  const world = typeof options.world === "string" ? worldOf(options.world) : options.world;
  const startMs = options.startMs ?? Date.parse(DEFAULT_START);
  const endMs = startMs + hours * HOUR_MS;
  const tell = options.tell ?? (() => {});
  const agenda = new Agenda<FeedText>();
  const waysides = new Map<string, Wayside>();
  for (const site of railroad.sites.values()) waysides.set(site.id, new Wayside(site, world, seed, startMs, hours, options.group ?? null));
  if (scenario !== undefined) addFaults(scenario, waysides, startMs);
  const yard: Yard = { world, seed, endMs, agenda, dispatcher: new Dispatcher(railroad), waysides, tell };
  const routes = routesOf(railroad);
  for (const wayside of waysides.values()) {
    tell(wayside.truth());
    if (options.quiet !== true) agenda.add(new Heartbeats(wayside, seed, startMs, endMs));
  }
  for (const test of scenario?.tests ?? []) {
    agenda.add(new Fixed(functionalTest(waysideOf(waysides, test.site), test.track, startMs + test.at * HOUR_MS)));
  }
  for (const wanted of scenario?.trains ?? []) agenda.add(new WantedDeparture(yard, routes, scenario as Scenario, wanted, startMs));
  const perDay = options.trainsPerDay ?? DEFAULT_TRAINS_PER_DAY;
  if (perDay > 0) agenda.add(new Departures(yard, routes, perDay, startMs));
  const spoilt = stream(seed, "malformed");
  const bad = (scenario?.malformed ?? 0) + spoilt.count((world.malformedPerDay * hours) / 24);
  if (bad > 0) agenda.add(new Fixed(malformedRecords([...waysides.values()], bad, startMs, endMs, spoilt, tell)));
  const out: FeedText[] = [];
  while (agenda.size > 0) {
    agenda.step(out);
    for (let i = 0; i < out.length; i++) yield out[i] as FeedText;
    out.length = 0;
  }
}

function addFaults(scenario: Scenario, waysides: Map<string, Wayside>, startMs: number): void {
  for (const fault of scenario.faults) {
    waysideOf(waysides, fault.site).spells.push({
      kind: fault.kind,
      device: fault.device,
      fromMs: startMs + fault.from * HOUR_MS,
      toMs: startMs + fault.to * HOUR_MS,
      value: fault.value,
    });
  }
}

function waysideOf(waysides: Map<string, Wayside>, site: string): Wayside {
  const wayside = waysides.get(site);
  if (wayside === undefined) throw new RangeError(`SIM-004 no site ${site} on this line`);
  return wayside;
}
