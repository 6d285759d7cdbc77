import { decode } from "../../src/feed/decode.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import { INBOUND } from "../../src/log/topics.ts";
import { simulate } from "../../src/simulate/simulate.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { loadRules } from "../../src/warning/rules.ts";
import { DayScore } from "./day-score.ts";
import { DayWatch } from "./day-watch.ts";
import type { RunOutcome } from "./outcome.ts";
import { GROUP, type Run, railroadOf, TRAINS_PER_DAY } from "./plan.ts";
import type { TrainCase } from "./train-case.ts";

const RULES_FOLDER = new URL("../../replay-data/rules/standard", import.meta.url).pathname;
const HOUR_MS = 3_600_000;
const START_MS = Date.UTC(2026, 2, 4);
/** As live: the log knows when it took a record, and time goes on in it although no site sends anything. */
const TICK_EVERY_MS = 60_000;
const SOURCES = INBOUND.map((topic) => `${topic}/0`);
/** Records between two looks at which trains are over. */
const RELEASE_EVERY = 2_000;

export interface RunEars {
  /** Share done, 0..1. */
  progress?: (share: number) => void;
  /** Every train when nothing about it can change any more, before it is let go. */
  train?: (train: TrainCase) => void;
}

/**
 * Simulates one spell of one world and sends its records, as text, through decoding and the folds that run live. The engine
 * knows nothing but the records, when they came, the line file and the rules. Deterministic but for `milliseconds`.
 */
export function measureRun(run: Run, ears: RunEars = {}): RunOutcome {
  const beganMs = performance.now();
  const railroad = railroadOf(run);
  const book = standardRules();
  const score = new DayScore(run, railroad, book);
  const watch = new DayWatch(railroad, book, START_MS, (train) => {
    ears.train?.(train);
    score.train(train, (passId) => watch.trainOfPass(passId));
  });
  const flow = new RailroadFlow(railroad, book, watch.sink(), (taken) => watch.look(taken));
  let nowMs = START_MS;
  let records = 0;
  let tickMs = START_MS;
  const { seed, hours, world } = run;
  const options = { railroad, seed, hours, world, group: GROUP, trainsPerDay: TRAINS_PER_DAY, startMs: START_MS };
  for (const { topic, json, atMs } of simulate({ ...options, tell: (truth) => watch.tell(truth, nowMs) })) {
    nowMs = atMs;
    for (; tickMs <= atMs; tickMs += TICK_EVERY_MS) records = tick(flow, tickMs, records);
    const decoded = decode(topic, json, { topic, partition: 0, offset: ++records });
    if (decoded.record !== undefined) flow.step(decoded.record, topic, 0, records, Math.floor(atMs));
    if (records % RELEASE_EVERY !== 0) continue;
    watch.release(nowMs);
    ears.progress?.(Math.min(1, (nowMs - START_MS) / (hours * HOUR_MS)));
  }
  flow.finish();
  watch.release(Number.POSITIVE_INFINITY);
  return score.close(watch, performance.now() - beganMs);
}

/** One tick for each source; gives the last offset. */
function tick(flow: RailroadFlow, ms: number, offset: number): number {
  const time = new Date(ms).toISOString();
  for (const [k, source] of SOURCES.entries()) {
    flow.step({ type: "tick", time, source, of: SOURCES.length }, INBOUND[k]!, 0, offset + 1 + k);
  }
  return offset + SOURCES.length;
}

let rules: RuleBook | null = null;

function standardRules(): RuleBook {
  rules ??= loadRules(RULES_FOLDER).rules;
  if (rules === null) throw new Error(`${RULES_FOLDER} has mistakes: bearing-rise check says which`);
  return rules;
}
