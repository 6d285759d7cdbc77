import kafkajs, { type Admin } from "kafkajs";
import type { Logger } from "../../telemetry/logger.ts";
import { TOPICS } from "../topics.ts";
import { kafkaClient } from "./client.ts";
import { causes } from "./faults.ts";
import { type KafkaConfig, kafkaSettings } from "./kafka-config.ts";
import { findings, type PresentTopic, type TopicFinding, type WantedTopic, wantedTopics } from "./topic-plan.ts";

export interface TopicReport {
  topics: TopicFinding[];
  created: string[];
  /** What of the cluster itself is to be heeded. */
  cautions: string[];
}

/** Positions outlive every record that they are positions in. */
const MINUTE_MS = 60_000;

/** Looks at the topics of a cluster and makes those that are missing, if told to. Nothing is ever changed or deleted. */
export async function lookAtTopics(config: KafkaConfig, logger: Logger, create: boolean): Promise<TopicReport> {
  const admin = kafkaClient(kafkaSettings(config), logger, "topics").admin();
  await admin.connect();
  try {
    const { brokers } = await admin.describeCluster();
    const wanted = wantedTopics(config, brokers.length);
    const before = findings(wanted, await present(admin, wanted));
    const missing = before.filter((finding) => finding.present === null).map((finding) => finding.wanted);
    if (!create || missing.length === 0) return { topics: before, created: [], cautions: await cautionsOf(admin, brokers[0]?.nodeId) };
    await admin.createTopics({
      waitForLeaders: true,
      topics: missing.map(({ topic, partitions, replicas, settings }) => ({
        topic,
        numPartitions: partitions,
        replicationFactor: replicas,
        configEntries: Object.entries(settings).map(([name, value]) => ({ name, value })),
      })),
    });
    const created = missing.map(({ topic }) => topic);
    for (const topic of created) logger.info("topic-created", `created ${topic}`, { topic });
    return {
      topics: findings(wanted, await present(admin, wanted)),
      created,
      cautions: await cautionsOf(admin, brokers[0]?.nodeId),
    };
  } finally {
    await admin.disconnect();
  }
}

async function present(admin: Admin, wanted: readonly WantedTopic[]): Promise<Map<string, PresentTopic>> {
  const listed = new Set(await admin.listTopics());
  const there = wanted.map(({ topic }) => topic).filter((topic) => listed.has(topic));
  const found = new Map<string, PresentTopic>();
  if (there.length === 0) return found;
  const { topics } = await admin.fetchTopicMetadata({ topics: there });
  const settings = await settingsOf(admin, there);
  for (const { name, partitions } of topics) {
    const replicas = Math.min(...partitions.map((partition) => partition.replicas.length));
    found.set(name, { partitions: partitions.length, replicas, settings: settings.get(name) ?? {} });
  }
  return found;
}

/** Without leave to read settings (DescribeConfigs) they are left out of the comparison. */
async function settingsOf(admin: Admin, topics: readonly string[]): Promise<Map<string, Record<string, string>>> {
  try {
    const { resources } = await admin.describeConfigs({
      includeSynonyms: false,
      resources: topics.map((name) => ({ type: kafkajs.ConfigResourceTypes.TOPIC, name })),
    });
    return new Map(resources.map(({ resourceName, configEntries }) => [resourceName, entriesOf(configEntries)]));
  } catch (error) {
    if (isUnauthorized(error)) return new Map();
    throw error;
  }
}

async function cautionsOf(admin: Admin, broker: number | undefined): Promise<string[]> {
  const needed = Math.max(...TOPICS.filter(({ flow }) => flow !== "out").map(({ retentionMs }) => retentionMs)) / MINUTE_MS;
  try {
    const { resources } = await admin.describeConfigs({
      includeSynonyms: false,
      resources: [{ type: kafkajs.ConfigResourceTypes.BROKER, name: String(broker ?? 0), configNames: ["offsets.retention.minutes"] }],
    });
    const minutes = Number(entriesOf(resources[0]?.configEntries ?? [])["offsets.retention.minutes"]);
    if (Number.isNaN(minutes) || minutes >= needed) return [];
    const words = `the brokers forget positions after ${minutes} minutes without a commit (offsets.retention.minutes), and records are kept longer`;
    return [
      `${words}: after a stop longer than that everything would be folded and published again, under the same ids. Set it to ${needed}.`,
    ];
  } catch (error) {
    if (isUnauthorized(error))
      return ["how long the brokers keep positions could not be asked (DescribeConfigs on the cluster is not allowed)"];
    throw error;
  }
}

function entriesOf(entries: readonly { configName: string; configValue: string }[]): Record<string, string> {
  return Object.fromEntries(entries.map(({ configName, configValue }) => [configName, configValue]));
}

function isUnauthorized(error: unknown): boolean {
  for (const { type } of causes(error)) if (type?.endsWith("AUTHORIZATION_FAILED")) return true;
  return false;
}
