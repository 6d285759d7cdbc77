import { peopleOf } from "../desk/safe-opening.ts";
import { startFolderFeed } from "../feed/input/folder-feed.ts";
import { startHttpFeed } from "../feed/input/http-feed.ts";
import { Intake } from "../feed/input/intake.ts";
import { startStdinFeed } from "../feed/input/stdin-feed.ts";
import { AssembleStage } from "../flow/assemble-stage.ts";
import { type Clock, wallClock } from "../flow/clock.ts";
import { FollowStage } from "../flow/follow-stage.ts";
import { PassesAtHand } from "../flow/passes-at-hand.ts";
import { type RunningStage, startStage } from "../flow/stage.ts";
import type { MakeFold } from "../flow/stage-fold.ts";
import { startTicker } from "../flow/ticker.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Log } from "../log/log.ts";
import { INBOUND, type TopicName } from "../log/topics.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { linesOf, rulesOf } from "../replay/railroad-files.ts";
import { Health } from "../telemetry/health.ts";
import type { Logger } from "../telemetry/logger.ts";
import { createMetrics, type Metrics } from "../telemetry/metrics.ts";
import { startPublished } from "../telemetry/published.ts";
import { startTelemetry } from "../telemetry/server.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { endpointOf } from "../webhook/endpoint.ts";
import { startWebhooks } from "../webhook/webhooks.ts";
import { type LiveConfig, STAGES, type StageName } from "./config.ts";
import { lineAhead } from "./line-refusal.ts";
import { startLineWatch } from "./line-watch.ts";
import { openLog } from "./open-log.ts";
import { Parts } from "./parts.ts";
import { startRulesWatch } from "./rules-watch.ts";

export interface Running {
  /** Settles when something cannot go on: the process must end. */
  readonly broken: Promise<Error>;
  /** Where metrics and health are; where records are taken, and the desk, if they are. */
  readonly urls: { telemetry: string; feed: string | null; desk: string | null };
  /** Everything folded is committed, every answer given, the log closed. */
  close(): Promise<void>;
}

/** Everything that a configuration asks for, started in this order and stopped in the other. */
export async function startLive(config: LiveConfig, logger: Logger, version: string, clock: Clock = wallClock): Promise<Running> {
  const { book: railroad, dated } = linesOf(config.railroad.line);
  const ahead = config.railroad.time === "arrival" ? lineAhead(config.railroad.line, dated, clock.now()) : null;
  if (ahead !== null) throw new CommandError(EXIT.lineOrRules, formatMistakes([ahead]));
  const book = rulesOf(config.railroad.rules);
  // Before anything runs: a desk that may not be opened, or a webhook without its secret, must not be found out when the stages are up.
  if (config.desk !== undefined) peopleOf(config.desk);
  for (const webhook of config.webhooks) endpointOf(webhook);
  const metrics = createMetrics({ version });
  const health = new Health();
  const parts = new Parts(health, logger);
  try {
    const { dataFolder } = config;
    const telemetry = await parts.add("telemetry", () => startTelemetry(config.telemetry, { metrics, health, logger, dataFolder }));
    const log = await parts.add("log", () => openLog(config, logger));
    await startStages(parts, { config, railroad, book, log, metrics, logger, clock });
    if (config.stages.length > 0) {
      await parts.add("rules", () => startRulesWatch({ path: config.railroad.rules, book, railroad, log, clock, logger }));
    }
    const { line: path, time } = config.railroad;
    const isAnnouncing = config.stages.length > 0;
    await parts.add("line", () => startLineWatch({ path, dated, book: railroad, time, isAnnouncing, log, clock, logger }));
    await parts.add("published", () => startPublished(log, metrics, logger));
    if (config.webhooks.length > 0) await parts.add("webhooks", () => startWebhooks({ config: config.webhooks, log, logger, metrics }));
    const desk = await startTheDesk(parts, { config, railroad, book, log, logger, metrics });
    const feed = await startFeeds(parts, { config, log, metrics, logger });
    return { broken: parts.broken, urls: { telemetry: telemetry.url, feed, desk }, close: () => parts.close() };
  } catch (error) {
    await parts.close();
    throw error;
  }
}

interface Context {
  config: LiveConfig;
  railroad: Railroad;
  book: RuleBook;
  log: Log;
  metrics: Metrics;
  logger: Logger;
  clock: Clock;
}

async function startStages(parts: Parts, { config, railroad, book, log, metrics, logger, clock }: Context): Promise<void> {
  const { time } = config.railroad;
  const atHand = config.stages.length === STAGES.length ? new PassesAtHand() : null;
  const stages: Record<StageName, { topics: readonly TopicName[]; make: MakeFold }> = {
    assemble: { topics: INBOUND, make: (source) => new AssembleStage(railroad, source, time, atHand) },
    follow: { topics: ["passes"], make: ({ partition }, start) => new FollowStage(railroad, book, partition, time, start, atHand) },
  };
  for (const name of config.stages) {
    const { topics, make } = stages[name];
    await parts.add<RunningStage>(name, () => startStage({ name, topics, make, log, clock, metrics, logger }));
  }
  // Where recorded days are fed in, time is what they say.
  if (time === "arrival" && config.stages.includes("assemble")) await parts.add("ticker", () => startTicker(log, clock, metrics, logger));
}

async function startTheDesk(
  parts: Parts,
  { config, railroad, book, log, logger, metrics }: Omit<Context, "clock">,
): Promise<string | null> {
  const { desk } = config;
  if (desk === undefined) return null;
  const otherRules = new Map(Object.entries(desk.otherRules).map(([name, path]) => [name, rulesOf(path)]));
  const counts = {
    listening: (clients: number) => metrics.desk.clients.set(clients),
    dropped: () => metrics.desk.dropped.add(1),
    refusedSignIn: () => {
      metrics.desk.signInsRefused.add(1);
      logger.warn("desk-sign-in-refused", "a sign-in to the desk was refused");
    },
    acted: (kind: string) => metrics.desk.action(kind).add(1),
  };
  // Nobody is there until somebody is: a desk that was never opened must not go unnoticed.
  metrics.desk.clients.set(0);
  const demonstration = railroad.demonstration ? `${railroad.name} is invented, and so is everything on it.` : null;
  // Brought in only where it is asked for: what builds its pages is larger than all the rest.
  const { startDesk } = await import("../desk/start-desk.ts");
  const running = await parts.add("desk", () =>
    startDesk({ config: desk, log, railroad, book, otherRules, time: config.railroad.time, demonstration, logger, counts }),
  );
  return running.url;
}

async function startFeeds(parts: Parts, { config, log, metrics, logger }: Pick<Context, "config" | "log" | "metrics" | "logger">) {
  const { http, folder, stdin } = config.feed;
  const intake = new Intake(log);
  if (folder !== undefined) {
    await parts.add("feed-folder", () => startFolderFeed({ config: folder, log, logger, metrics: metrics.feed("folder"), intake }));
  }
  if (stdin === true) await parts.add("feed-stdin", () => startStdinFeed({ log, logger, metrics: metrics.feed("stdin"), intake }));
  if (http === undefined) return null;
  const feed = await parts.add("feed-http", () => startHttpFeed({ config: http, log, logger, metrics: metrics.feed("http"), intake }));
  return feed.url;
}
