import { Command } from "commander";
import { lookAtTopics, type TopicReport } from "../log/kafka/topic-admin.ts";
import type { TopicFinding } from "../log/kafka/topic-plan.ts";
import { partitionsOf, TOPICS } from "../log/topics.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { tableLines } from "../replay/table.ts";
import { createLogger } from "../telemetry/logger.ts";
import { type EmbeddedConfig, loadConfig } from "./config.ts";

const DAY_MS = 86_400_000;

/** `bearing-rise topics`: what topics there are and should be. Makes those that are missing if told to; never deletes, never changes. */
export function topicsCommand(): Command {
  return new Command("topics")
    .description(
      "Shows the topics on the Kafka cluster against what they should be, and makes those that are missing. Never deletes or changes one.",
    )
    .requiredOption("--config <file>", "configuration, YAML")
    .option("--create", "make the topics that are missing")
    .addHelpText("after", "\nExample:\n  bearing-rise topics --config deploy/live.yaml --create")
    .action(async ({ config, create }: { config: string; create?: true }) => {
      const { log } = loadConfig(config);
      if (!("kafka" in log)) {
        process.stdout.write(embeddedText(log.embedded));
        return;
      }
      const report = await lookAtTopics(log.kafka, createLogger({ level: "error" }), create === true).catch((error: unknown) => {
        const words = error instanceof Error ? error.message : String(error);
        throw new CommandError(EXIT.broken, `bearing-rise: the cluster at ${log.kafka.brokers.join(", ")} could not be asked: ${words}`);
      });
      process.stdout.write(reportText(report));
      if (report.topics.some(({ present }) => present === null)) process.exitCode = EXIT.broken;
    });
}

/** Without Kafka nothing has to be made: the embedded log has every topic from the start. */
function embeddedText({ partitions }: EmbeddedConfig): string {
  const counts = partitionsOf(partitions);
  const rows = TOPICS.map(({ name, retentionMs, words }) => [name, String(counts.get(name)), days(retentionMs), words]);
  const head = "The log is a file in the data folder; it makes its topics by itself.\n\n";
  return `${head}${tableLines([{ head: "topic" }, { head: "partitions", right: true }, { head: "kept" }, { head: "" }], rows).join("\n")}\n`;
}

function reportText({ topics, created, cautions }: TopicReport): string {
  const columns = [
    { head: "topic" },
    { head: "partitions", right: true },
    { head: "replicas", right: true },
    { head: "in sync", right: true },
    { head: "kept" },
    { head: "" },
  ];
  const lines = tableLines(
    columns,
    topics.map((finding) => rowOf(finding, created)),
  );
  for (const { wanted, differences } of topics) for (const difference of differences) lines.push(`${wanted.topic}: ${difference}`);
  for (const caution of cautions) lines.push(`caution: ${caution}`);
  const missing = topics.filter(({ present }) => present === null).length;
  if (missing > 0) lines.push(`${missing} missing: bearing-rise topics --config FILE --create makes them.`);
  return `${lines.join("\n")}\n`;
}

function rowOf({ wanted, present, differences }: TopicFinding, created: readonly string[]): string[] {
  const shown = present ?? wanted;
  const setting = (name: string) => shown.settings[name] ?? wanted.settings[name] ?? "";
  const word =
    present === null ? "missing" : created.includes(wanted.topic) ? "created" : differences.length > 0 ? "differs" : "as it should be";
  const kept = days(Number(setting("retention.ms")));
  return [wanted.topic, String(shown.partitions), String(shown.replicas), setting("min.insync.replicas"), kept, word];
}

function days(ms: number): string {
  return ms < 0 ? "for ever" : `${Math.round((ms / DAY_MS) * 10) / 10} days`;
}
