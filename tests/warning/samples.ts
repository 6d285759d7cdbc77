import { readFileSync } from "node:fs";
import fc from "fast-check";
import type { Levels } from "../../src/bearing/levels.ts";
import type { BearingReading, BearingTrack, HeatKind, Outlook } from "../../src/bearing/track.ts";
import type { Journey, Leg } from "../../src/journey/journey.ts";
import type { Direction, Railroad, SetOut, Site, Way } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { Cause, Decision, Standing } from "../../src/warning/decide.ts";
import type { Look, Presence } from "../../src/warning/look.ts";
import { RuleBook } from "../../src/warning/rule-book.ts";
import { limitsOf, type Rules } from "../../src/warning/rule-set.ts";
import { readRules } from "../../src/warning/rules.ts";
import type { Level } from "../../src/warning/warning.ts";

/** Samples of this room: an invented line of sites 10 miles apart, and looks, outlooks and journeys made by hand. */

export const RULES_FILE = new URL("../../replay-data/rules/standard/2026-01-01.yaml", import.meta.url);
export const RULES_TEXT = readFileSync(RULES_FILE, "utf8");
export const RULES: Rules = readRules(RULES_TEXT, "standard.yaml").rules!;
export const BOOK = new RuleBook([RULES]);
export const LIMITS = limitsOf(RULES, "main", false);

export const START_MS = Date.parse("2026-02-03T04:00:00Z");
const HOUR_MS = 3_600_000;

export function setOut(id: string, milepost: number): SetOut {
  return { id, name: `${id} siding`, milepost, miles: 0, tracks: ["1"], forward: true, backward: true, carLengths: 12 };
}

export function way(site: string, miles: number, places: [id: string, miles: number][] = [], over: string[] = []): Way {
  const setOuts = places.map(([id, at]) => ({ setOut: setOut(id, 100 + at), miles: at }));
  return { site, tracks: ["1"], direction: "rising", miles, fastestHours: miles / 60, over, setOuts };
}

export function outlook(over: Partial<Outlook> = {}): Outlook {
  return {
    healthy: 0.9,
    steady: 0.05,
    wandering: 0.04,
    rising: 0.01,
    excessF: 20,
    excessSdF: 4,
    slopeFPerMile: 0.5,
    slopeSdFPerMile: 0.4,
    chanceNext: 0.01,
    chanceNextButOne: 0.02,
    crossing: null,
    fasterThanPublished: false,
    used: ["used", "used"],
    ...over,
  };
}

export function reading(miles: number, riseF: number, over: Partial<BearingReading> = {}): BearingReading {
  return {
    miles,
    timeMs: START_MS + (miles / 40) * HOUR_MS,
    riseF,
    excessF: riseF - 25,
    spreadF: 7,
    biasSdF: 2,
    mateExcessF: 0,
    vehicleExcessF: 0,
    wheelRiseF: Number.NaN,
    doubted: false,
    ...over,
  };
}

export function look(over: Partial<Look> = {}): Look {
  const track: BearingTrack = over.track ?? [reading(0, 40), reading(12, over.riseF ?? 60)];
  return {
    timeMs: START_MS,
    siteName: "Alder",
    milepost: 112,
    train: "Q118",
    keyTrain: false,
    limits: LIMITS,
    heat: "bearing",
    outlook: outlook(),
    riseF: 60,
    mateRiseF: 25,
    wheelRiseF: Number.NaN,
    excessF: 35,
    sideMedianF: 25,
    sideSpreadF: 7,
    track,
    readings: track.filter((one) => !Number.isNaN(one.riseF)).length,
    milesSinceSeen: 0,
    presence: "here",
    doubts: [],
    ahead: [
      way("birch-20", 10, [["spur", 4]]),
      way(
        "cedar-30",
        20,
        [
          ["spur", 4],
          ["yard", 16],
        ],
        ["birch-20"],
      ),
    ],
    speedMph: 40,
    beyondMiles: 0.5,
    rulesInForce: true,
    place: () => "car 47 from the head, second axle of its rear truck, right side in the direction of travel (axle 187)",
    vehicle: () => "car 47 from the head",
    nameOf: (site) => site,
    ...over,
  };
}

/** Readings as they come, from cold to burning, or not at all. */
const anyRise = fc.oneof(fc.double({ min: -20, max: 400, noNaN: true }), fc.constant(Number.NaN));
const chance = fc.double({ min: 0, max: 1, noNaN: true });
const anyCrossing = fc
  .tuple(
    fc.double({ min: 0, max: 80, noNaN: true }),
    fc.double({ min: 0, max: 30, noNaN: true }),
    fc.double({ min: 0, max: 60, noNaN: true }),
  )
  .map(([low, to, on]) => ({ low, miles: low + to, high: low + to + on }));

export const anyOutlook: fc.Arbitrary<Outlook> = fc
  .record({
    healthy: chance,
    steady: chance,
    wandering: chance,
    rising: chance,
    slopeFPerMile: fc.double({ min: -20, max: 40, noNaN: true }),
    chanceNext: chance,
    chanceNextButOne: chance,
    crossing: fc.option(anyCrossing),
    fasterThanPublished: fc.boolean(),
  })
  .map((over) => outlook(over));

export const anyWays: fc.Arbitrary<Way[]> = fc
  .array(
    fc.record({
      miles: fc.double({ min: 5, max: 60, noNaN: true }),
      places: fc.uniqueArray(fc.integer({ min: 0, max: 5900 }), { maxLength: 5 }),
    }),
    { maxLength: 3 },
  )
  .map((ways) =>
    ways.map(({ miles, places }, i) => {
      const within = places.map((hundredths) => hundredths / 100).filter((at) => at <= miles);
      return way(
        `site-${i}`,
        miles,
        within.sort((a, b) => a - b).map((at) => [`place-${i}-${at}`, at] as [string, number]),
      );
    }),
  );

export const anyLook: fc.Arbitrary<Look> = fc
  .record({
    riseF: anyRise,
    mateRiseF: anyRise,
    wheelRiseF: anyRise,
    outlook: fc.option(anyOutlook),
    presence: fc.constantFrom<Presence>("here", "here", "not-counted", "gone"),
    heat: fc.constantFrom<HeatKind>("bearing", "brakes", "scanner", "sun", "none"),
    doubts: fc.constantFrom<string[]>([], ["the site reports trouble with its power supply"]),
    ahead: anyWays,
    speedMph: fc.oneof(fc.constant(Number.NaN), fc.double({ min: 5, max: 80, noNaN: true })),
    keyTrain: fc.boolean(),
    train: fc.constantFrom("Q118", null),
    rulesInForce: fc.boolean(),
    excessF: anyRise,
    sideMedianF: anyRise,
    sideSpreadF: anyRise,
  })
  .chain((over) =>
    fc.array(anyRise, { minLength: 0, maxLength: 6 }).map((rises) => {
      const track = [...rises, over.riseF].map((riseF, i) => reading(i * 12, riseF));
      const last = track.findLast((one) => !Number.isNaN(one.riseF)) ?? track[0]!;
      return look({ ...over, track, milesSinceSeen: track.at(-1)!.miles - last.miles });
    }),
  );

/** Where nothing stands, and every level that can stand. */
export const anyStanding = fc.option(
  fc.record({
    level: fc.constantFrom("watch" as const, "warn" as const, "limit" as const),
    lowReadings: fc.integer({ min: 0, max: 3 }),
    raised: fc.record({
      siteName: fc.constant("Dale"),
      riseF: anyRise,
      cause: fc.constantFrom<Cause>("limit", "critical", "axle-difference", "chance"),
    }),
    nextButOne: fc.option(chance),
  }),
);

/** What stands after a level was given at Dale with 120 °F. */
export function standing(level: Level, over: Partial<Standing> = {}): Standing {
  return { level, lowReadings: 0, raised: { siteName: "Dale", riseF: 120, cause: "chance" }, nextButOne: 0.1, ...over };
}

/** Decision with all that a life or a ledger reads, for tests that do not ask how it came about. */
export function decision(over: Partial<Decision> = {}): Decision {
  return {
    level: "watch",
    now: over.level === undefined ? "watch" : over.level,
    cause: "chance",
    change: "raised",
    eased: false,
    standing: null,
    timeMs: START_MS,
    riseF: 80,
    sight: "measured",
    chanceNext: null,
    crossing: null,
    nextSite: null,
    setOut: { chosen: null, nearest: null, words: "" },
    reasons: [],
    advice: "",
    rules: RULES.id,
    riseAgainF: RULES.desk.riseAgainF,
    ...over,
  };
}

/** A line `main` with sites s0, s1, ... 10 miles apart, mileposts from 100 up, a set-out place in the middle of every link. */
export function straightRailroad(sites: number, owner: (site: number) => string[] = () => ["corridor"]): Railroad {
  const site = (i: number): Site => ({
    id: `s${i}`,
    name: `Site ${i}`,
    line: "main",
    milepost: 100 + 10 * i,
    kind: "main",
    tracks: [{ id: "1", wheel: true }],
    units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
  });
  const index = (id: string) => Number(id.slice(1));
  return {
    id: "invented",
    name: "Invented",
    timeZone: "UTC",
    demonstration: true,
    fromMs: Number.NEGATIVE_INFINITY,
    sites: new Map(Array.from({ length: sites }, (_, i) => [`s${i}`, site(i)])),
    links: [],
    corridors: [],
    ahead(from: string, _track: string, direction: Direction, hops: number): Way[] {
      const step = direction === "rising" ? 1 : -1;
      const ways: Way[] = [];
      for (let hop = 1; hop <= hops; hop++) {
        const to = index(from) + hop * step;
        if (to < 0 || to >= sites) break;
        const places = Array.from({ length: hop }, (_, i) => {
          const at = 10 * i + 5;
          return { setOut: setOut(`siding-${index(from) + i * step}`, 100 + 10 * index(from) + at * step), miles: at };
        });
        const over = Array.from({ length: hop - 1 }, (_, i) => `s${index(from) + (i + 1) * step}`);
        ways.push({ site: `s${to}`, tracks: ["1"], direction, miles: 10 * hop, fastestHours: hop / 6, over, setOuts: places });
      }
      return ways;
    },
    corridorsOf: (id: string) => owner(index(id)),
  };
}

const AXLES = 8;
const MEDIAN_F = 25;

/** A pass of a train of two cars over site `site`, every bearing at 25 °F but those given as [row, rail, rise]. */
export function passAt(site: number, train: string, endedMs: number, hot: [row: number, rail: 0 | 1, riseF: number][]): Pass {
  const bearing = [0, 1].map(() => new Float32Array(AXLES).fill(MEDIAN_F)) as [Float32Array, Float32Array];
  for (const [row, rail, riseF] of hot) bearing[rail][row] = riseF;
  const car = (ordinal: number) => ({
    kind: "car" as const,
    ordinal,
    ordinalOfKind: ordinal,
    firstRow: (ordinal - 1) * 4,
    axles: 4,
    trucks: [2, 2],
    id: null,
    confidence: 0.99,
  });
  return {
    id: `s${site}/1/${train}@${new Date(endedMs - 60_000).toISOString().replace(/[-:.]/g, "")}`,
    site: `s${site}`,
    track: "1",
    pass: train,
    direction: "rising",
    begunMs: endedMs - 60_000,
    endedMs,
    ambientF: 50,
    train,
    axles: AXLES,
    axlesSaid: AXLES,
    ms: Float64Array.from({ length: AXLES }, (_, i) => i * 500),
    gapInches: Float32Array.from({ length: AXLES }, (_, i) => (i === 0 ? Number.NaN : 70)),
    speedMph: new Float32Array(AXLES).fill(40),
    bearingRiseF: bearing,
    wheelRiseF: null,
    tags: new Map(),
    flags: [],
    vehicles: [car(1), car(2)],
    vehicleOfAxle: Int16Array.from({ length: AXLES }, (_, i) => Math.floor(i / 4)),
  };
}

export function legOf(pass: Pass, miles: number): Leg {
  const levels: Levels = {
    excessF: pass.bearingRiseF.map((rise) => rise.map((riseF) => riseF - MEDIAN_F)) as Levels["excessF"],
    medianF: [MEDIAN_F, MEDIAN_F],
    spreadF: [7, 7],
    biasF: [0, 0],
    biasSdF: [2, 2],
    doubts: [[], []],
  };
  const rosterOfRow = Int32Array.from({ length: pass.axles }, (_, i) => i);
  return { pass, miles, direction: "rising", directionDoubted: false, flipped: false, rosterOfRow, join: null, levels };
}

export function journeyOf(passes: Pass[]): Journey {
  const first = Number(passes[0]!.site.slice(1));
  const legs = passes.map((pass) => legOf(pass, 10 * (Number(pass.site.slice(1)) - first)));
  return { id: `J-${passes[0]!.id}`, train: passes[0]!.train, rosterAxles: AXLES, legs };
}
