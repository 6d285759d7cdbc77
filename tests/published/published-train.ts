import type { FeedRecord } from "../../src/feed/record.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import { readLine } from "../../src/line/line-file.ts";
import type { Direction, Railroad } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { loadRules } from "../../src/warning/rules.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { type Built, between, car, locomotive, normal, seeded } from "../pass/train.ts";

/**
 * A train around a published bearing. The publications give one bearing and the make-up of the train; everything else here
 * (spacings, the healthy bearings, places of vehicles not told) is our assumption and no check rests on it.
 */
export interface PublishedTrain {
  vehicles: Built[];
  /** Spacing before each axle, inches; null for the first. */
  gaps: (number | null)[];
  /** Rise of each axle's bearings over ambient when healthy, °F: [left, right] of travel. */
  healthyF: [number, number][];
}

/** `heads` and `mids`: locomotives ahead, and [after this many cars] in the train. All six-axle. */
export function publishedTrain(seed: number, cars: number, heads: number, mids: readonly number[]): PublishedTrain {
  const random = seeded(seed);
  const six = (): Built => {
    for (;;) {
      const built = locomotive(random);
      if (built.trucks[0] === 3) return built;
    }
  };
  const vehicles: Built[] = Array.from({ length: heads }, six);
  for (let n = 1; n <= cars; n++) {
    vehicles.push(car(random));
    for (const after of mids) if (after === n) vehicles.push(six());
  }
  const gaps: (number | null)[] = [];
  let overhang = 0;
  for (const built of vehicles) {
    gaps.push(gaps.length === 0 ? null : overhang + built.overhangInches);
    gaps.push(...built.inside);
    overhang = built.overhangInches;
  }
  // Healthy: about 20 to 60 °F above ambient from memory [M]; here 25 give or take 6 (assumption).
  const healthyF = gaps.map((): [number, number] => [25 + 6 * normal(random), 25 + 6 * normal(random)]);
  return { vehicles, gaps, healthyF };
}

export interface PublishedPass {
  site: string;
  pass: string;
  beganMs: number;
  mph: number;
  /** As the site reports it, and as the train ran. */
  reported: Direction;
  ran: Direction;
  ambientF: number;
  /** One bearing's reading: row from 0, side of travel. */
  hot: { row: number; side: 0 | 1; riseF: number };
}

const INCHES_PER_SECOND_AT_1_MPH = 17.6;

/** The records that the site sends for a pass. */
export function* recordsOf(train: PublishedTrain, at: PublishedPass): Generator<FeedRecord> {
  const { site, pass } = at;
  const random = seeded(Math.round(at.beganMs / 1_000) % 1_000_003);
  const begun = new Date(at.beganMs).toISOString();
  yield { type: "pass-begun", site, track: "1", pass, time: begun, direction: at.reported, ambient: at.ambientF };
  let ms = 0;
  const times = train.gaps.map((gap) => {
    ms += ((gap ?? 0) / (at.mph * INCHES_PER_SECOND_AT_1_MPH)) * 1_000;
    return Math.round(ms);
  });
  const rails: [number[], number[]] = [[], []];
  train.healthyF.forEach((pair, row) => {
    for (const side of [0, 1] as const) {
      const isHot = row === at.hot.row && side === at.hot.side;
      const riseF = isHot ? at.hot.riseF : pair[side] + 2 * normal(random);
      rails[side ^ (at.ran === "falling" ? 1 : 0)]?.push(Math.round(10 * riseF) / 10);
    }
  });
  for (let row = 0; row < train.gaps.length; row += 32) {
    const to = Math.min(row + 32, train.gaps.length);
    const gap = train.gaps
      .slice(row, to)
      .map((inches) => (inches === null ? null : Math.round(10 * (inches + between(random, -0.5, 0.5))) / 10));
    yield {
      type: "axles",
      site,
      track: "1",
      pass,
      first: row + 1,
      ms: times.slice(row, to),
      gap,
      speed: gap.map(() => at.mph),
      left: { bearing: rails[0].slice(row, to) },
      right: { bearing: rails[1].slice(row, to) },
    };
  }
  yield {
    type: "pass-ended",
    site,
    track: "1",
    pass,
    time: new Date(at.beganMs + ms).toISOString(),
    axles: train.gaps.length,
    integrity: [],
  };
}

/** A single-track line of sites in a row, by milepost; distances are the differences of the published mileposts. */
export function publishedLine(sites: { id: string; milepost: number }[]): Railroad {
  const rising = [...sites].sort((a, b) => a.milepost - b.milepost);
  const text = JSON.stringify({
    railroad: { id: "published", name: "Sites of a published report", timeZone: "America/New_York", demonstration: true },
    units: { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" },
    sites: rising.map(({ id, milepost }) => ({ id, name: id, line: "Line", milepost, tracks: [{ id: "1" }], kind: "default" })),
    links: rising.slice(1).map((to, at) => ({
      from: rising[at]?.id,
      to: to.id,
      miles: Math.round(100 * (to.milepost - (rising[at]?.milepost ?? 0))) / 100,
      tracks: [["1", "1"]],
      fastestMph: 70,
      setOuts: [],
    })),
    corridors: [{ id: "all", name: "All", sites: rising.map(({ id }) => id), leadIn: [] }],
  });
  const { railroad, mistakes } = readLine(text, "published.yaml");
  if (railroad === null) throw new Error(JSON.stringify(mistakes, null, 2));
  return railroad;
}

export function standardRules(): RuleBook {
  const { rules } = loadRules("replay-data/rules/standard");
  if (rules === null) throw new Error("the rules of the demonstration have mistakes");
  return rules;
}

export interface Said {
  warnings: Warning[];
  conditions: SiteCondition[];
  passes: Pass[];
  joins: string[];
}

/** Folds passes of a train and says what came out after each. */
export function saidAfterEach(railroad: Railroad, train: PublishedTrain, passes: readonly PublishedPass[]): Said[] {
  const said: Said = { warnings: [], conditions: [], passes: [], joins: [] };
  const flow = new RailroadFlow(railroad, standardRules(), {
    pass: (pass) => said.passes.push(pass),
    warning: (warning) => said.warnings.push(warning),
    condition: (condition) => said.conditions.push(condition),
    calibration: () => {},
    rejected: (rejected) => {
      throw new Error(JSON.stringify(rejected));
    },
    settled: (journey, leg) => said.joins.push(`${leg.pass.site} ${journey.legs.length} ${leg.join === null ? "alone" : "joined"}`),
  });
  const after: Said[] = [];
  let offset = 0;
  for (const pass of passes) {
    for (const record of recordsOf(train, pass)) flow.step(record, "axle-readings", 0, ++offset);
    after.push({ ...said, warnings: [...said.warnings], conditions: [...said.conditions], passes: [...said.passes] });
  }
  flow.finish();
  after.push({ ...said });
  return after;
}
