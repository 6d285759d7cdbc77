import type { Equipment, Heartbeat, SiteReport } from "../../src/feed/record.ts";
import type { JoinEvidence, Journey, Leg } from "../../src/journey/journey.ts";
import { readLine } from "../../src/line/line-file.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { EquipmentSeen } from "../../src/site/equipment-seen.ts";
import type { FunctionalTestRecord } from "../../src/site/functional-test.ts";
import { type SiteRules, siteRulesSchema } from "../../src/site/site-rules.ts";
import { Watch } from "../../src/site/watch.ts";
import { RuleBook } from "../../src/warning/rule-book.ts";
import { RULES } from "../warning/samples.ts";

export const START_MS = Date.parse("2026-03-04T00:00:00.000Z");
export const MINUTE_MS = 60_000;
export const HOUR_MS = 60 * MINUTE_MS;

export const at = (minute: number) => START_MS + minute * MINUTE_MS;
export const iso = (minute: number) => new Date(at(minute)).toISOString();

/** Five sites in a row, the first three with two tracks; 14 miles from one to the next. */
export const SITES = ["alder-14", "birch-29", "cedar-41", "dell-55", "elm-69"] as const;

export function fiveSites(): Railroad {
  const sites = SITES.map(
    (id, k) =>
      `  - { id: ${id}, name: ${id}, line: L, milepost: ${14 + k * 14}, tracks: [{ id: 1 }${k < 3 ? ", { id: 2, wheel: false }" : ""}], kind: main }`,
  );
  const links = SITES.slice(1).map((id, k) => {
    const tracks = k < 2 ? "[[1, 1], [2, 2]]" : k === 2 ? "[[1, 1], [2, 1]]" : "[[1, 1]]";
    return `  - { from: ${SITES[k]}, to: ${id}, miles: 14, tracks: ${tracks}, fastestMph: 60 }`;
  });
  const text = [
    "railroad: { id: short, name: Short, timeZone: America/Chicago, demonstration: true }",
    "units: { temperature: F, reading: above-ambient, gap: in, speed: mph }",
    "sites:",
    ...sites,
    "links:",
    ...links,
    `corridors: [{ id: c, name: C, sites: [${SITES.join(", ")}] }]`,
  ].join("\n");
  const { railroad, mistakes } = readLine(text, "five.yaml");
  if (railroad === null) throw new Error(JSON.stringify(mistakes));
  return railroad;
}

export function siteRules(change: Record<string, unknown> = {}): SiteRules {
  return siteRulesSchema.parse(change);
}

export interface Watching {
  watch: Watch;
  out: SiteCondition[];
  tests: FunctionalTestRecord[];
  equipment: EquipmentSeen[];
  /** A record of a site with its own time, come at the same time by ours. */
  report(record: SiteReport, nowMs?: number): boolean;
  beat(site: string, minute: number, over?: Partial<Heartbeat>): void;
}

export function watching(
  change: Record<string, unknown> = {},
  railroad = fiveSites(),
  owned: readonly string[] = [...railroad.sites.keys()],
): Watching {
  const out: SiteCondition[] = [];
  const tests: FunctionalTestRecord[] = [];
  const equipment: EquipmentSeen[] = [];
  const watch = new Watch(railroad, new Set(owned), new RuleBook([{ ...RULES, sites: siteRules(change) }]), {
    condition: (condition) => out.push(condition),
    functionalTest: (record) => tests.push(record),
    equipment: (seen) => equipment.push(seen),
  });
  const report = (record: SiteReport, nowMs = Date.parse(record.time)) => {
    watch.heard(record.site, Date.parse(record.time), nowMs);
    return watch.report(record, nowMs);
  };
  const beat = (site: string, minute: number, over: Partial<Heartbeat> = {}) => {
    report({ type: "heartbeat", site, time: iso(minute), ...over });
  };
  return { watch, out, tests, equipment, report, beat };
}

export const kinds = (out: readonly SiteCondition[]) =>
  out.filter(isTurn).map(({ site, device, kind, state }) => `${site}${device === "" ? "" : `/${device}`} ${kind} ${state}`);

/** Raised or cleared; not what only goes on. */
function isTurn(condition: SiteCondition): boolean {
  return condition.version === 1 || condition.state === "cleared";
}

const AXLES = 400;

export function pass(site: string, minute: number, over: Partial<Pass> = {}): Pass {
  const axles = over.axles ?? AXLES;
  const track = over.track ?? "1";
  const column = (value: number) => new Float32Array(axles).fill(value);
  return {
    id: `${site}/${track}/${minute}@${iso(minute).replace(/[-:.]/g, "")}`,
    site,
    track,
    pass: `${minute}`,
    direction: "rising",
    begunMs: at(minute),
    endedMs: at(minute) + MINUTE_MS,
    ambientF: 54,
    train: null,
    axles,
    axlesSaid: axles,
    ms: Float64Array.from({ length: axles }, (_, k) => k * 100),
    gapInches: column(70),
    speedMph: column(39.77),
    bearingRiseF: [column(31), column(30)],
    wheelRiseF: null,
    tags: new Map(),
    flags: [],
    vehicles: [],
    vehicleOfAxle: new Int16Array(axles).fill(-1),
    ...over,
  };
}

export interface Seen {
  medianF?: [number, number];
  biasF?: [number, number];
  spreadF?: [number, number];
  doubts?: [string[], string[]];
  directionDoubted?: boolean;
  direction?: Leg["direction"];
  join?: Partial<JoinEvidence> | null;
}

export function leg(one: Pass, miles: number, seen: Seen = {}, from: Leg | null = null): Leg {
  const evidence = { from: from?.pass.id ?? "", missedSingly: 0, doubled: 0, scale: 1, ...seen.join } as JoinEvidence;
  return {
    pass: one,
    miles,
    direction: seen.direction ?? one.direction,
    directionDoubted: seen.directionDoubted ?? false,
    flipped: false,
    rosterOfRow: new Int32Array(one.axles),
    join: from === null || seen.join === null ? null : evidence,
    levels: {
      excessF: [new Float32Array(one.axles), new Float32Array(one.axles)],
      medianF: seen.medianF ?? [31, 30],
      spreadF: seen.spreadF ?? [7, 7],
      biasF: seen.biasF ?? [0, 0],
      biasSdF: [1, 1],
      doubts: seen.doubts ?? [[], []],
    },
  };
}

/** A train over some of the five sites, 18 minutes from one to the next, with what each saw of it. */
export function train(
  begins: number,
  over: Partial<Record<(typeof SITES)[number], Seen & { pass?: Partial<Pass> }>>,
  falling = false,
): Journey {
  const route = SITES.filter((site) => over[site] !== undefined);
  if (falling) route.reverse();
  const legs: Leg[] = [];
  for (const site of route) {
    const hop = Math.abs(SITES.indexOf(site) - SITES.indexOf(route[0]!));
    const { pass: changes, ...seen } = over[site]!;
    const one = pass(site, begins + hop * 18, { direction: falling ? "falling" : "rising", ...changes });
    legs.push(leg(one, hop * 14, seen, legs.at(-1) ?? null));
  }
  return { id: `J-${legs[0]!.pass.id}`, train: null, rosterAxles: AXLES, legs };
}

/** Places and settles the legs of a journey one after the other, as a corridor does. */
export function run(watch: Watch, journey: Journey): void {
  const whole = journey.legs;
  const growing: Journey = { ...journey, legs: [] };
  for (const one of whole) {
    growing.legs.push(one);
    watch.placed(growing, one, null);
    watch.settled(growing, one);
  }
}

/** Every site of the five. */
export function everywhere(seen: Seen = {}): Partial<Record<(typeof SITES)[number], Seen>> {
  return Object.fromEntries(SITES.map((site) => [site, seen]));
}

export function equipment(site: string, minute: number, over: Partial<Equipment> = {}): Equipment {
  return {
    type: "equipment",
    site,
    track: "1",
    pass: `${minute}`,
    time: iso(minute + 1),
    kind: "hot-bearing",
    axle: 187,
    side: "right",
    value: 200,
    announced: true,
    ...over,
  };
}
