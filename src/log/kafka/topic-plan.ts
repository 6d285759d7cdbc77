import { REPLICAS, TOPICS, type TopicDefinition } from "../topics.ts";
import type { KafkaConfig } from "./kafka-config.ts";

/** A topic as it should be on a cluster. */
export interface WantedTopic {
  topic: string;
  partitions: number;
  replicas: number;
  settings: Readonly<Record<string, string>>;
}

/** A topic as a cluster has it; null where it has none. */
export interface PresentTopic {
  partitions: number;
  replicas: number;
  settings: Readonly<Record<string, string>>;
}

export interface TopicFinding {
  wanted: WantedTopic;
  present: PresentTopic | null;
  /** What is otherwise than wanted, each in words. Nothing of it is changed by us. */
  differences: string[];
}

/** What every topic should be on a cluster of so many brokers. */
export function wantedTopics({ topicPrefix, partitions, replicas }: KafkaConfig, brokers: number): WantedTopic[] {
  const copies = replicas ?? Math.min(REPLICAS, brokers);
  return TOPICS.map((definition) => ({
    topic: `${topicPrefix}${definition.name}`,
    partitions: partitions[definition.name] ?? definition.partitions,
    replicas: copies,
    settings: settingsOf(definition, copies),
  }));
}

function settingsOf({ retentionMs, minInsyncReplicas }: TopicDefinition, replicas: number): Record<string, string> {
  return {
    // #1072: a read-committed reader of kafkajs can hang on a compacted topic. None is compacted.
    "cleanup.policy": "delete",
    "retention.ms": String(retentionMs),
    // One of the replicas may fail and nothing stops.
    "min.insync.replicas": String(Math.max(1, Math.min(minInsyncReplicas, replicas - 1))),
    // When a record came is the broker's word, not its sender's; and no clock that is a year ahead is refused for it.
    "message.timestamp.type": "LogAppendTime",
  };
}

/** Holds what is there against what is wanted. */
export function findings(wanted: readonly WantedTopic[], present: ReadonlyMap<string, PresentTopic>): TopicFinding[] {
  return wanted.map((one) => {
    const there = present.get(one.topic) ?? null;
    return { wanted: one, present: there, differences: there === null ? [] : differencesOf(one, there) };
  });
}

function differencesOf(wanted: WantedTopic, present: PresentTopic): string[] {
  const found: string[] = [];
  if (present.partitions < wanted.partitions) {
    found.push(`${present.partitions} partitions, configured ${wanted.partitions}: adding some moves keys; stop all processes for it`);
  } else if (present.partitions > wanted.partitions) {
    found.push(
      `${present.partitions} partitions, configured ${wanted.partitions}: correct the configuration, a topic cannot have fewer again`,
    );
  }
  if (present.replicas < wanted.replicas) found.push(`${present.replicas} replicas, wanted ${wanted.replicas}`);
  for (const [name, value] of Object.entries(wanted.settings)) {
    const there = present.settings[name];
    if (there === undefined || there === value || isEnough(name, there, value)) continue;
    found.push(`${name} is ${there}, wanted ${value}`);
  }
  return found;
}

/** Longer retention (or none at all), and more replicas in sync, are the operator's good right. */
function isEnough(name: string, there: string, wanted: string): boolean {
  if (name === "retention.ms") return there === "-1" || Number(there) >= Number(wanted);
  return name === "min.insync.replicas" && Number(there) >= Number(wanted);
}
