import type * as z from "zod";
import { inbound } from "../feed/decode.ts";
import { calibration } from "../feed/outbound/calibrations.ts";
import { equipmentSeen } from "../feed/outbound/equipment-seen.ts";
import { functionalTestRecord } from "../feed/outbound/functional-tests.ts";
import { pass } from "../feed/outbound/passes.ts";
import { rejected } from "../feed/outbound/rejected.ts";
import { siteCondition } from "../feed/outbound/site-conditions.ts";
import { warning } from "../feed/outbound/warnings.ts";

/** A topic: what the `topics` command creates, the logs hold, and the AsyncAPI document says. */
export interface TopicDefinition {
  name: TopicName;
  /** From outside, from one stage to the next, or to whoever reads. */
  flow: "in" | "between" | "out";
  /** What the key is, in words. */
  key: string;
  words: string;
  /** Unless the configuration says otherwise. More can be added later, never fewer. */
  partitions: number;
  retentionMs: number;
  /** Replicas that must have a record before it counts, on a cluster that has so many. */
  minInsyncReplicas: number;
  /** Record type -> schema. */
  records: Readonly<Record<string, z.ZodType>>;
}

export type TopicName =
  | "axle-readings"
  | "site-reports"
  | "consists"
  | "desk-actions"
  | "passes"
  | "warnings"
  | "site-conditions"
  | "calibrations"
  | "functional-tests"
  | "equipment-seen"
  | "rejected";

const DAY_MS = 24 * 3_600_000;
/** Long enough that a fault of last week can be replayed. Assumption. */
const A_WEEK_MS = 7 * DAY_MS;
/** What a month's account is made from. Assumption. */
const A_MONTH_MS = 31 * DAY_MS;
/** What is looked up in a later year: warnings, conditions, tests, the sites' own reports. Assumption; local rules may ask for longer. */
const THIRTEEN_MONTHS_MS = 400 * DAY_MS;

/** With three replicas one may fail and nothing stops. */
const MIN_INSYNC_REPLICAS = 2;
export const REPLICAS = 3;

/** One partition keeps up with some 3,000 axles/s; four let a second process take half of the work. */
const SPREAD = 4;

/** Every topic there is, in the order in which records go through them. */
export const TOPICS: readonly TopicDefinition[] = [
  {
    name: "axle-readings",
    flow: "in",
    key: "<site>/<track>",
    words: "Per-axle readings as a train passes a site.",
    partitions: SPREAD,
    retentionMs: A_WEEK_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: inbound["axle-readings"],
  },
  {
    name: "site-reports",
    flow: "in",
    key: "<site>",
    words: "What a site says of itself: heartbeats, faults, its own alarms, functional tests.",
    partitions: 1,
    retentionMs: A_WEEK_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: inbound["site-reports"],
  },
  {
    name: "consists",
    flow: "in",
    key: "<train>",
    words: "The vehicles of a train, from the head end.",
    partitions: 1,
    retentionMs: A_WEEK_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: inbound.consists,
  },
  {
    name: "desk-actions",
    flow: "in",
    key: "<warning id> or <site>",
    words: "What people at the desk did.",
    partitions: 1,
    retentionMs: A_MONTH_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: inbound["desk-actions"],
  },
  {
    name: "passes",
    flow: "between",
    key: "<corridor>",
    words: "One train over one site, assembled; between the passes, in the order in which they are folded, what else a corridor folds.",
    partitions: SPREAD,
    retentionMs: A_MONTH_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { passes: pass },
  },
  {
    name: "warnings",
    flow: "out",
    key: "<warning id>",
    words: "Bearings watched, warned of, or at the limit.",
    partitions: 1,
    retentionMs: THIRTEEN_MONTHS_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { warnings: warning },
  },
  {
    name: "site-conditions",
    flow: "out",
    key: "<site>",
    words: "What needs attention at a site.",
    partitions: 1,
    retentionMs: THIRTEEN_MONTHS_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { "site-conditions": siteCondition },
  },
  {
    name: "calibrations",
    flow: "out",
    key: "<site>",
    words: "Learned scanner bias; read back as an input.",
    partitions: 1,
    retentionMs: THIRTEEN_MONTHS_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { calibrations: calibration },
  },
  {
    name: "functional-tests",
    flow: "out",
    key: "<site>",
    words: "The record of a finished functional test of a site.",
    partitions: 1,
    retentionMs: THIRTEEN_MONTHS_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { "functional-test-record": functionalTestRecord },
  },
  {
    name: "equipment-seen",
    flow: "out",
    key: "<site>",
    words: "A site's own report of a train, joined with its pass: which vehicle, whether our reading agrees, who was told.",
    partitions: 1,
    retentionMs: THIRTEEN_MONTHS_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { "equipment-seen": equipmentSeen },
  },
  {
    name: "rejected",
    flow: "out",
    key: "<topic>",
    words: "Inbound records that could not be used, with the reason.",
    partitions: 1,
    retentionMs: A_MONTH_MS,
    minInsyncReplicas: MIN_INSYNC_REPLICAS,
    records: { rejected },
  },
];

/** The topics that `assemble` reads, and into which ticks are written. */
export const INBOUND: readonly TopicName[] = TOPICS.filter((topic) => topic.flow === "in").map((topic) => topic.name);

/** @throws Error for a name that no topic has: a fault of the program. */
export function topicOf(name: string): TopicDefinition {
  const topic = TOPICS.find((one) => one.name === name);
  if (topic === undefined) throw new Error(`no topic is called ${name}`);
  return topic;
}

/** Partitions of every topic, `wanted` having the say where it names one. */
export function partitionsOf(wanted: Partial<Record<TopicName, number>> = {}): Map<TopicName, number> {
  return new Map(TOPICS.map(({ name, partitions }) => [name, wanted[name] ?? partitions]));
}
