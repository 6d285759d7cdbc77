import { decode } from "../../../src/feed/decode.ts";
import { RailroadFlow } from "../../../src/flow/railroad-flow.ts";
import { readLine } from "../../../src/line/line-file.ts";
import type { Railroad } from "../../../src/line/railroad.ts";
import type { FeedText } from "../../../src/simulate/feed-text.ts";
import { inventLine, USUAL_MILES } from "../../../src/simulate/invent-line.ts";
import { simulate } from "../../../src/simulate/simulate.ts";
import type { Truth } from "../../../src/simulate/truth.ts";
import { type World, worldOf } from "../../../src/simulate/worlds.ts";
import type { ConditionKind, SiteCondition } from "../../../src/site/condition.ts";
import { siteRulesSchema } from "../../../src/site/site-rules.ts";
import { RuleBook } from "../../../src/warning/rule-book.ts";
import { loadRules } from "../../../src/warning/rules.ts";
import { SOUND_SITES } from "../../simulate/sound-sites.ts";
import type { Label } from "./label.ts";
import { type PlainAlarm, PlainWatch } from "./plain-watch.ts";

export const SITES = 8;
export const TRAINS_PER_DAY = 50;
/** Two thirds of what the rules call a drift. */
const FAR_OFF_F = 8;
export const HOUR_MS = 3_600_000;
export const START_MS = Date.parse("2026-03-04T00:00:00.000Z");

/** What was raised, when it came out: at the record that led to it, not at the time of the pass that it speaks of. */
export interface Raised {
  site: string;
  device: string;
  kind: ConditionKind;
  atMs: number;
  words: string;
  information: boolean;
}

export interface Week {
  labels: Label[];
  raised: Raised[];
  plain: PlainAlarm[];
  /** Scanners that are far off as built, `site device`: telling of them is right, wherever the line is drawn. */
  biased: Set<string>;
  /** The calendar of tests is shorter than the week: what it says is right of every site. */
  isCalendarDue: boolean;
  sites: number;
  days: number;
}

export function weekRailroad(seed: number, doubleShare = 0.4): Railroad {
  const { railroad } = readLine(inventLine({ seed, sites: SITES, ...USUAL_MILES, doubleShare }), "line.yaml");
  if (railroad === null) throw new Error("the invented line has mistakes");
  return railroad;
}

/** What a label does to the feed: a record, changed, several, or none. Spells of the simulator go in as a scenario. */
export interface Injury {
  labels: Label[];
  change?: ((item: FeedText) => FeedText[]) | undefined;
  faults?: { site: string; kind: "late" | "miscount" | "noise"; device: string; from: number; to: number; value: number }[] | undefined;
  world?: Partial<World> | undefined;
  /** Functional tests, hours after the start, and what the rules say of sites where it is not the usual. */
  tests?: { site: string; track: string; at: number }[] | undefined;
  siteRules?: Record<string, unknown> | undefined;
}

function rulesWith(siteRules: Record<string, unknown> | undefined): RuleBook {
  const { rules } = loadRules("replay-data/rules/standard");
  if (rules === null) throw new Error("the rules have mistakes");
  return siteRules === undefined ? rules : new RuleBook(rules.sets.map((set) => ({ ...set, sites: siteRulesSchema.parse(siteRules) })));
}

/** Runs one simulated week through the folds and the plain rules side by side. */
export function runWeek(seed: number, days: number, railroad: Railroad, injury: Injury): Week {
  const raised: Raised[] = [];
  const plain = new PlainWatch([...railroad.sites.keys()]);
  const flow = new RailroadFlow(railroad, rulesWith(injury.siteRules), {
    pass: (pass) => plain.pass(pass),
    warning: () => {},
    calibration: () => {},
    rejected: () => {},
    settled: () => {},
    condition: (condition) => {
      if (condition.version === 1) raised.push(raisedOf(condition, nowMs));
    },
  });
  const world = { ...worldOf("ordinary"), ...SOUND_SITES, ...injury.world };
  const scenario = {
    seed,
    start: new Date(START_MS).toISOString(),
    hours: 24 * days,
    world: "ordinary" as const,
    changes: {},
    trainsPerDay: 0,
    trains: [],
    tests: injury.tests ?? [],
    malformed: 0,
    faults: injury.faults ?? [],
  };
  const biased = new Set<string>();
  const tell = (truth: Truth): void => {
    if (truth.type !== "site") return;
    for (const [device, biasF] of Object.entries(truth.biasF)) if (Math.abs(biasF) >= FAR_OFF_F) biased.add(`${truth.site} ${device}`);
  };
  let offset = 0;
  let nowMs = START_MS;
  for (const whole of simulate({
    railroad,
    seed,
    hours: 24 * days,
    world,
    trainsPerDay: TRAINS_PER_DAY,
    startMs: START_MS,
    scenario,
    tell,
  })) {
    for (const item of injury.change?.(whole) ?? [whole]) {
      offset++;
      nowMs = item.atMs;
      const { record, rejected } = decode(item.topic, item.json, { topic: item.topic, partition: 0, offset });
      if (record === undefined) {
        flow.refused(rejected!, item.key);
        continue;
      }
      flow.step(record, item.topic, 0, offset);
      plain.heard(record, item.atMs);
    }
  }
  flow.finish();
  return {
    labels: injury.labels,
    raised,
    plain: plain.alarms,
    biased,
    isCalendarDue: injury.siteRules !== undefined,
    sites: railroad.sites.size,
    days,
  };
}

function raisedOf({ site, device, kind, words, priority }: SiteCondition, atMs: number): Raised {
  return { site, device, kind, atMs, words, information: priority === "information" };
}
