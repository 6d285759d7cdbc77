import { dirname, resolve } from "node:path";
import * as z from "zod";
import { deskConfig, deskPathsFrom } from "../desk/desk-config.ts";
import { folderFeedConfig } from "../feed/input/folder-feed.ts";
import { httpFeedConfig } from "../feed/input/http-feed.ts";
import { stdinFeedConfig } from "../feed/input/stdin-feed.ts";
import { formatMistakes } from "../line/mistake.ts";
import { readTextFile } from "../line/text-file.ts";
import { readYaml } from "../line/yaml-source.ts";
import { kafkaConfig, kafkaPathsFrom } from "../log/kafka/kafka-config.ts";
import { TOPICS, type TopicName } from "../log/topics.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { telemetryConfig } from "../telemetry/server.ts";
import { webhookPathsFrom, webhooksConfig } from "../webhook/endpoint.ts";

export const STAGES = ["assemble", "follow"] as const;
export type StageName = (typeof STAGES)[number];

const path = z.string().min(1).max(4_096);
const MOST_PARTITIONS = 1_000;
const topicNames = TOPICS.map((topic) => topic.name) as [TopicName, ...TopicName[]];
const GIGABYTE = 1e9;

/** The embedded log: one file in the data folder. */
const embeddedConfig = z.strictObject({
  partitions: z
    .partialRecord(z.enum(topicNames), z.int().gte(1).lte(MOST_PARTITIONS))
    .default({})
    .describe("Topic -> partitions. More can be added later, never fewer."),
  mostGigabytes: z
    .number()
    .gt(0)
    .lte(10_000)
    .default(50)
    .describe("The log's file grows no larger; then records are refused until there is room."),
});

/** The configuration of a running process. Paths are from the file's own folder; secrets stand in it by reference only. */
export const liveConfig = z.strictObject({
  railroad: z.strictObject({
    line: path.describe("Line file, or a folder of dated ones; looked at for changes while running."),
    rules: path.describe("Rules file, or a folder of dated ones; looked at for changes while running."),
    time: z
      .enum(["arrival", "feed"])
      .default("arrival")
      .describe(
        "arrival: a live feed. feed: recorded days are fed in, and time is what their own records say; then sites are not called dead or late.",
      ),
  }),
  dataFolder: path.describe("What this process keeps: the embedded log, names, positions."),
  log: z
    .union([z.strictObject({ kafka: kafkaConfig }), z.strictObject({ embedded: embeddedConfig })])
    .prefault({ embedded: {} })
    .describe("Kafka, or the embedded log when left out."),
  stages: z
    .array(z.enum(STAGES))
    .max(STAGES.length)
    .default([...STAGES])
    .describe("What this process takes part in."),
  feed: z
    .strictObject({ http: httpFeedConfig.optional(), folder: folderFeedConfig.optional(), stdin: stdinFeedConfig.optional() })
    .prefault({})
    .describe("Ways in for records, beside the log itself."),
  webhooks: webhooksConfig.default([]),
  desk: deskConfig.optional(),
  telemetry: telemetryConfig.prefault({}),
});

export type LiveConfig = z.infer<typeof liveConfig>;
export type EmbeddedConfig = z.infer<typeof embeddedConfig>;

/** Bytes that the embedded log's file may have. */
export function mostBytesOf({ mostGigabytes }: EmbeddedConfig): number {
  return mostGigabytes * GIGABYTE;
}

/** Reads a configuration. @throws CommandError with every mistake, its line and column */
export function loadConfig(file: string): LiveConfig {
  const { text, mistakes: unreadable } = readTextFile(file);
  if (text === null) throw new CommandError(EXIT.lineOrRules, formatMistakes(unreadable));
  const { value, mistakes } = readYaml(text, file, liveConfig);
  if (value === null) throw new CommandError(EXIT.lineOrRules, formatMistakes(mistakes, text));
  return fromFolder(value, dirname(resolve(file)));
}

/** The same with every path made absolute. */
function fromFolder(config: LiveConfig, folder: string): LiveConfig {
  const at = (place: string) => resolve(folder, place);
  const { railroad, desk, feed } = config;
  return {
    ...config,
    railroad: { ...railroad, line: at(railroad.line), rules: at(railroad.rules) },
    dataFolder: at(config.dataFolder),
    log: "kafka" in config.log ? { kafka: kafkaPathsFrom(config.log.kafka, at) } : config.log,
    feed: { ...feed, folder: feed.folder === undefined ? undefined : { ...feed.folder, path: at(feed.folder.path) } },
    webhooks: config.webhooks.map((webhook) => webhookPathsFrom(webhook, at)),
    desk: desk === undefined ? undefined : deskPathsFrom(desk, at),
  };
}
