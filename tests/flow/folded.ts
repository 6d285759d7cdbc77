import { decode } from "../../src/feed/decode.ts";
import type { FeedRecord } from "../../src/feed/record.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import type { Outcome, Sink } from "../../src/flow/sink.ts";
import { loadLine } from "../../src/line/line-file.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { recordOfPass } from "../../src/pass/pass-record.ts";
import { type SimulateOptions, simulate } from "../../src/simulate/simulate.ts";
import type { Truth } from "../../src/simulate/truth.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { loadRules } from "../../src/warning/rules.ts";
import type { Warning } from "../../src/warning/warning.ts";

/** One record of a feed on its way to the folds. */
export interface Arrival {
  topic: string;
  key: string;
  json: string;
  atMs: number;
}

/** Everything that a flow published, as it would be written. */
export interface Folded {
  passes: string[];
  warnings: Warning[];
  conditions: string[];
  rejected: string[];
  joins: string[];
  outcomes: Record<Outcome, number>;
}

export function demoRailroad(): Railroad {
  const { railroad } = loadLine("replay-data/line.yaml");
  if (railroad === null) throw new Error("the line file of the demonstration has mistakes");
  return railroad;
}

export function demoRules(): RuleBook {
  const { rules } = loadRules("replay-data/rules/standard");
  if (rules === null) throw new Error("the rules of the demonstration have mistakes");
  return rules;
}

export function simulated(options: Omit<SimulateOptions, "railroad">, railroad = demoRailroad()): { feed: Arrival[]; truth: Truth[] } {
  const truth: Truth[] = [];
  const feed = [...simulate({ railroad, tell: (item) => truth.push(item), ...options })];
  return { feed, truth };
}

export function emptyFolded(): Folded {
  return {
    passes: [],
    warnings: [],
    conditions: [],
    rejected: [],
    joins: [],
    outcomes: { used: 0, late: 0, repeated: 0, rejected: 0 },
  };
}

export function sinkInto(folded: Folded): Sink {
  return {
    pass: (pass) => folded.passes.push(JSON.stringify(recordOfPass(pass))),
    warning: (warning) => folded.warnings.push(warning),
    condition: (condition) => folded.conditions.push(JSON.stringify(condition)),
    calibration: () => {},
    rejected: (rejected) => folded.rejected.push(JSON.stringify(rejected)),
    settled: (journey, leg, _doubt, corridor) =>
      folded.joins.push(`${corridor} ${leg.pass.id} ${leg.join === null ? "begins" : `joins ${leg.join.from}`} in ${journey.id}`),
  };
}

/** Folds a feed from its first record to its end. `carry`: what becomes of a pass between the assembling and the following stage. */
export function fold(
  feed: Iterable<Arrival>,
  railroad = demoRailroad(),
  rules = demoRules(),
  carry: (pass: Pass) => Pass = (pass) => pass,
): Folded {
  const folded = emptyFolded();
  const flow = new RailroadFlow(railroad, rules, sinkInto(folded), null, carry);
  let offset = 0;
  for (const { topic, json } of feed) {
    offset++;
    const { record, rejected } = decode(topic, json, { topic, partition: 0, offset });
    if (rejected !== undefined) {
      folded.outcomes.rejected++;
      folded.rejected.push(JSON.stringify(rejected));
    } else {
      folded.outcomes[flow.step(record as FeedRecord, topic, 0, offset)]++;
    }
  }
  flow.finish();
  return folded;
}

/** What is left in the end: the last version of every warning that was not withdrawn, without what tells how it came about. */
export function standing(warnings: readonly Warning[]): string[] {
  const last = new Map<string, Warning>();
  for (const warning of warnings) last.set(warning.id, warning);
  return [...last.values()]
    .filter((warning) => warning.state !== "withdrawn")
    .map(({ version: _version, correction: _correction, ...rest }) => JSON.stringify(rest))
    .sort();
}
