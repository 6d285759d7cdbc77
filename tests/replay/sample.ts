import { readFileSync } from "node:fs";
import type { Levels } from "../../src/bearing/levels.ts";
import type { Rejected } from "../../src/feed/record.ts";
import type { JoinEvidence, Journey, Leg } from "../../src/journey/journey.ts";
import { readLine } from "../../src/line/line-file.ts";
import type { Direction, Railroad } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { DayAccount } from "../../src/replay/account.ts";
import { EVERYTHING, type Narrow } from "../../src/replay/narrow.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { EvidenceReading, Level, Warning } from "../../src/warning/warning.ts";

/** A small invented day with one of each thing that a report shows, made without the engine. */

export const MIDNIGHT = Date.UTC(2026, 2, 4, 6);
const HOUR = 3_600_000;
const LINE = new URL("../../replay-data/line.yaml", import.meta.url);

export function sampleRailroad(): Railroad {
  const { railroad, mistakes } = readLine(readFileSync(LINE, "utf8"), "line.yaml");
  if (railroad === null) throw new Error(`line.yaml: ${mistakes[0]?.says}`);
  return railroad;
}

export function passAt(site: string, track: string, number: number, endedMs: number, more: Partial<Pass> = {}): Pass {
  const axles = more.axles ?? 8;
  const column = (value: number) => new Float32Array(axles).fill(value);
  const begunMs = endedMs - 60_000;
  return {
    id: `${site}/${track}/${number}@${new Date(begunMs).toISOString().replace(/[-:.]/g, "")}`,
    site,
    track,
    pass: String(number),
    direction: "rising",
    begunMs,
    endedMs,
    ambientF: 40,
    train: null,
    axles,
    axlesSaid: axles,
    ms: new Float64Array(axles),
    gapInches: column(70),
    speedMph: column(45),
    bearingRiseF: [column(30), column(30)],
    wheelRiseF: null,
    tags: new Map(),
    flags: [],
    vehicles: [],
    vehicleOfAxle: new Int16Array(axles).fill(-1),
    ...more,
  };
}

const LEVELS: Levels = {
  excessF: [new Float32Array(8), new Float32Array(8)],
  medianF: [30, 30],
  spreadF: [7, 7],
  biasF: [0, 0],
  biasSdF: [2, 2],
  doubts: [[], []],
};

export function legOf(pass: Pass, miles: number, from: string | null, more: Partial<Leg> = {}): Leg {
  const join: JoinEvidence | null =
    from === null
      ? null
      : {
          from,
          miles,
          hours: 0.4,
          mph: 45,
          matched: pass.axles,
          dropped: 0,
          added: 0,
          missedSingly: 0,
          doubled: 0,
          flipped: false,
          scale: 1,
          residualInches: 0.8,
          train: "same",
          tagsAgree: 0,
          tagsDiffer: 0,
          score: 40,
          margin: 30,
          runnerUp: null,
          doubts: [],
        };
  const rosterOfRow = Int32Array.from({ length: pass.axles }, (_, row) => row);
  return { pass, miles, direction: pass.direction, directionDoubted: false, flipped: false, rosterOfRow, join, levels: LEVELS, ...more };
}

/** What a bearing reads at each site of its journey; null: its axle was not seen there. */
export type Rises = readonly (number | null)[];

export interface SampleTrain {
  train: string | null;
  sites: readonly [site: string, track: string, milesFromPrevious: number][];
  direction: Direction;
  startMs: number;
  mph?: number;
  /** Readings of axle 5, right side in the direction of travel. */
  rises?: Rises;
}

export function journeyOf({ train, sites, direction, startMs, mph = 45, rises = [] }: SampleTrain, number: number): Journey {
  const journey: Journey = { id: "", train, rosterAxles: 8, legs: [] };
  let miles = 0;
  for (const [index, [site, track, along]] of sites.entries()) {
    miles += along;
    const heading = site.startsWith("kestrel") || "lmnopqr".includes(site[0] as string) ? opposite(direction) : direction;
    const pass = passAt(site, track, number, startMs + (miles / mph) * HOUR, { train, direction: heading });
    const leg = legOf(pass, Math.round(miles * 100) / 100, journey.legs.at(-1)?.pass.id ?? null);
    const rise = rises[index];
    pass.bearingRiseF[heading === "rising" ? 1 : 0][4] = rise ?? Number.NaN;
    if (rise === null) leg.rosterOfRow[4] = -1;
    journey.legs.push(leg);
  }
  journey.id = `J-${journey.legs[0]?.pass.id}`;
  return journey;
}

function opposite(direction: Direction): Direction {
  return direction === "rising" ? "falling" : "rising";
}

/** The warning as it would stand after leg `index`; what matters to a test goes into `more`. */
export function warningAt(journey: Journey, index: number, level: Level, more: Partial<Warning> = {}): Warning {
  const evidence = journey.legs.slice(0, index + 1).map(evidenceOf);
  const leg = journey.legs[index] as Leg;
  const seen = journey.legs.slice(0, index + 1).findLast((at) => at.rosterOfRow[4] === 4) ?? leg;
  const riseF = evidence[index]?.riseF ?? null;
  const before = evidence[index - 1];
  const slope = riseF === null || !before || before.riseF === null ? null : (riseF - before.riseF) / (leg.miles - before.miles);
  const slopeFPerMile = slope === null ? null : Math.round(slope * 100) / 100;
  const ahead = slope !== null && slope > 0 && riseF !== null && riseF < 170 ? (170 - riseF) / slope : null;
  return {
    id: `W-${journey.train ?? "unnamed"}`,
    version: 1,
    time: new Date(leg.pass.endedMs).toISOString(),
    level,
    state: "unacknowledged",
    correction: false,
    supersededBy: null,
    corridor: "alder",
    site: seen.pass.site,
    track: seen.pass.track,
    pass: seen.pass.id,
    direction: seen.direction,
    train: journey.train,
    journey: journey.id,
    axle: 5,
    side: "right",
    vehicle: {
      ordinal: 2,
      ordinalOfKind: 1,
      kind: "car",
      id: "QX 100123",
      axleInVehicle: 1,
      axlesInVehicle: 4,
      truck: 1,
      trucks: 2,
      axleInTruck: 1,
      confidence: 0.97,
    },
    place: "car 1 from the head (QX 100123), first axle of its front truck, right side in the direction of travel (axle 5)",
    heat: "bearing",
    riseF,
    leveledF: evidence[index]?.leveledF ?? null,
    slopeFPerMile,
    slopeFPerMinute: slopeFPerMile === null ? null : Math.round(slopeFPerMile * 75) / 100,
    limitF: 170,
    chances: { rising: 0.9, steady: 0.05, wandering: 0.04, healthy: 0.01, beforeNextSite: 0.62, beforeNextButOne: 0.88 },
    crossing:
      ahead === null
        ? null
        : { miles: ahead, low: ahead * 0.7, high: ahead * 1.6, minutes: ahead / 0.75, milepost: null, line: null, chance: 0.88 },
    nextSite: journey.legs[index + 1]
      ? { site: (journey.legs[index + 1] as Leg).pass.site, miles: (journey.legs[index + 1] as Leg).miles - leg.miles }
      : null,
    setOut: level === "watch" ? null : { place: "linnet", name: "Linnet siding", milepost: 64.7, miles: 11.6, carLengths: 8 },
    lastSeenMiles: leg.miles - seen.miles,
    evidence,
    reasons: [
      `It read ${riseF ?? "nothing"} °F above ambient; the rest of its side read 30.0 °F with a spread of 7.0 °F.`,
      "It rises at every site, and faster at the last one than before.",
    ],
    rules: "standard-2026-01",
    advice: "Stop at the place named, inspect the bearing, and set the car out if it is found defective.",
    caution: "This is advice. The site's own alarm, the operating rules and qualified people govern.",
    ...more,
  };
}

function evidenceOf(leg: Leg): EvidenceReading {
  const rise = leg.pass.bearingRiseF[leg.direction === "rising" ? 1 : 0][4] as number;
  const seen = leg.rosterOfRow[4] === 4 && Number.isFinite(rise);
  const riseF = seen ? Math.round(rise * 10) / 10 : null;
  return {
    site: leg.pass.site,
    milepost: 50,
    pass: leg.pass.id,
    time: new Date(leg.pass.endedMs).toISOString(),
    axle: seen ? 5 : null,
    miles: leg.miles,
    riseF,
    leveledF: riseF === null ? null : Math.round((riseF - 32) * 10) / 10,
    sideMedianF: 30,
    sideSpreadF: 7,
    biasF: 2,
    used: riseF === null ? "missing" : riseF < 20 ? "low-outlier" : "used",
  };
}

const MAIN: SampleTrain["sites"] = [
  ["alder-14", "1", 0],
  ["brock-27", "1", 12.8],
  ["coldrill-44", "1", 17.1],
  ["dunmere-53", "1", 9],
  ["elmrigg-72", "1", 19.3],
  ["fennick-131", "1", 18.9],
  ["garrow-160", "1", 28.7],
  ["hollin-178", "1", 18.4],
  ["kestrel-212", "1", 24],
  ["lorne-196", "1", 16.1],
  ["marrow-158", "1", 38],
  ["nettle-143", "1", 15.4],
  ["orrin-128", "1", 14.3],
  ["pellow-105", "1", 23.4],
  ["quarrin-91", "1", 13.7],
  ["rushy-77", "1", 14.4],
];
const BRANCH: SampleTrain["sites"] = [...MAIN.slice(0, 4), ["sable-11", "1", 14.3], ["tawny-33", "1", 21.8]];

export function mainWay(sites: number): SampleTrain["sites"] {
  return MAIN.slice(0, sites);
}

function backwards(sites: SampleTrain["sites"]): SampleTrain["sites"] {
  return sites.toReversed().map(([site], i, all) => {
    const along = i === 0 ? 0 : (sites.find(([name]) => name === all[i - 1]?.[0])?.[2] ?? 0);
    return [site, site < "e" || site > "mb" ? "2" : "1", along] as const;
  }) as unknown as SampleTrain["sites"];
}

export interface Sample {
  railroad: Railroad;
  account: DayAccount;
}

/** Forty-odd trains over both corridors and the branch, with one warning of each kind. */
export function sampleDay(keep: Narrow = EVERYTHING): Sample {
  const railroad = sampleRailroad();
  const account = new DayAccount(railroad, keep);
  let number = 100;
  const run: Run = (train, warnings = () => []) => {
    const journey = journeyOf(train, number++);
    replayJourney(account, journey, warnings(journey));
    account.addAxles(journey.legs.length * 480);
  };
  for (let i = 0; i < 40; i++) {
    const eastward = i % 2 === 0;
    const way = i % 7 === 3 ? BRANCH : MAIN;
    const train = i % 5 === 4 ? null : `${eastward ? "E" : "W"}${200 + i}`;
    const startMs = MIDNIGHT + i * 0.52 * HOUR;
    run({ train, sites: eastward ? way : backwards(way), direction: eastward ? "rising" : "falling", startMs, mph: 36 + (i % 5) * 4 });
  }
  sampleWarnings(account, run);
  account.addCondition(sampleCondition("silent", "fennick-131", "cleared"));
  account.addCondition(sampleCondition("drift", "orrin-128", "raised"));
  account.addDoubt({
    pass: "pellow-105/1/133@20260304T090000000Z",
    kind: "ambiguous",
    candidates: [
      { journey: "J-a", score: 20 },
      { journey: "J-b", score: 19 },
    ],
    words: "Two trains of the same cars are both possible, and neither fits better by enough: nothing was joined.",
  });
  for (let i = 0; i < 7; i++) account.addRejected(sampleRejected(i));
  account.addRead(12_007);
  account.addOutcome("axle-readings", "used", 11_000);
  account.addOutcome("axle-readings", "repeated", 12);
  account.addOutcome("site-reports", "used", 980);
  account.addOutcome("consists", "late", 8);
  account.addFollowed(61);
  return { railroad, account };
}

/** Passes and warnings in the order of a replay: each leg, then what it led to (a warning's last evidence row is its leg). */
export function replayJourney(account: DayAccount, journey: Journey, warnings: readonly Warning[] = []): void {
  const soFar: Journey = { ...journey, legs: [] };
  for (const leg of journey.legs) {
    account.addPass(leg.pass);
    soFar.legs.push(leg);
    // A train over the corridors' border is joined by both; here with the same journey.
    for (const corridor of corridorsOf(leg.pass.site)) account.addJoin(soFar, leg, corridor);
    for (const warning of warnings) if (warning.evidence.at(-1)?.pass === leg.pass.id) account.addWarning(warning);
  }
}

/** As in the line file: the owner first, then the neighbour to which the site is lead-in. */
function corridorsOf(site: string): string[] {
  const near = { "kestrel-212": "alder", "lorne-196": "alder", "garrow-160": "kestrel", "hollin-178": "kestrel" }[site];
  const owner = "klmnopqr".includes(site[0] as string) ? "kestrel" : "alder";
  return near === undefined ? [owner] : [owner, near];
}

type Run = (train: SampleTrain, warnings?: (journey: Journey) => Warning[]) => void;

function sampleWarnings(account: DayAccount, run: Run): void {
  const train = (name: string, hour: number, rises: Rises, warnings: (journey: Journey) => Warning[], sites = MAIN) =>
    run({ train: name, sites: sites.slice(0, rises.length), direction: "rising", startMs: MIDNIGHT + hour * HOUR, rises }, warnings);

  train("Q118", 2.3, [33, 38, 41, 62, 88, 103, 152, 181], (slow) => [
    warningAt(slow, 3, "watch"),
    warningAt(slow, 5, "warn", { version: 2 }),
    warningAt(slow, 7, "limit", { version: 3, setOut: null, advice: "Stop. Inspect and set the car out if defective." }),
  ]);
  train("Q124", 7.1, [31, 34, 30, 33, 36, 29, 31, 38, 35, 44, 232], (fast) => [warningAt(fast, 10, "limit", { setOut: null })]);
  train("X301", 9.4, [40, 52, 11, 96, 118, null, 92, 84, 80, 76], (nothing) => [
    warningAt(nothing, 3, "watch"),
    warningAt(nothing, 4, "warn", { version: 2 }),
  ]);
  train("X307", 12.2, [40, 61, 99], (gone) => [warningAt(gone, 2, "warn")], BRANCH);
  train("M77", 14.8, [44, 90, 88, 91, 60], (brakes) => [
    warningAt(brakes, 2, "watch", { heat: "brakes", advice: "Both wheels of the axle are hot: look for applied brakes." }),
  ]);
  train("<b>T1</b>", 17, [70, 76, 79, 74, 77, 75], (hostile) => [
    warningAt(hostile, 1, "watch", { place: "car <img src=x onerror=alert(1)>\u202e", reasons: ["\u001b[31m<script>alert(1)</script>"] }),
  ]);
  train("L9", 19, [40, 80, 95], (late) => [
    warningAt(late, 1, "watch", { id: "W-old" }),
    warningAt(late, 1, "watch", { id: "W-old", version: 2, state: "withdrawn", correction: true, supersededBy: "W-L9" }),
    warningAt(late, 2, "watch", { correction: true }),
  ]);
  account.addRules("standard-2026-01");
}

function sampleCondition(kind: "silent" | "drift", site: string, state: "raised" | "cleared"): SiteCondition {
  return {
    id: `${site}/${kind}`,
    version: 1,
    time: new Date(MIDNIGHT + 11 * HOUR).toISOString(),
    site,
    device: kind === "drift" ? "1/left" : "",
    kind,
    state,
    raisedAt: new Date(MIDNIGHT + 7 * HOUR).toISOString(),
    evidence: ["Three trains were seen on both sides of it and not by it."],
    words: kind === "silent" ? "It sends heartbeats, but three trains passed that it did not report." : "This scanner reads 14 °F high.",
    advice: "Send a maintainer.",
  };
}

function sampleRejected(index: number): Rejected {
  return {
    id: `R-${index}`,
    version: 1,
    topic: index % 2 === 0 ? "axle-readings" : "nonsense",
    partition: 0,
    offset: 40 + index,
    reason: index < 5 ? "FEED-001 not JSON" : "FEED-004 a column is too long",
    path: index < 5 ? "" : "left.bearing[70]",
    expected: "One JSON object.",
    advice: "Look at what the site's sender wrote.",
    raw: `{"type":"axles","site":"</code><script>alert(${index})</script>`,
  };
}
