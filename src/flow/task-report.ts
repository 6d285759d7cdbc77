import { FencedError, type Source, UnknownOutcomeError } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { StageMetrics } from "../telemetry/metrics.ts";
import type { StageFold } from "./stage-fold.ts";
import type { TaskState } from "./task.ts";

/** What is told of a task's life: a log line where it turns, metrics of what it does. Decides nothing. */
export class TaskReport {
  private readonly source: Source;
  private readonly metrics: StageMetrics;
  private readonly logger: Logger;

  constructor({ source, metrics, logger }: { source: Source; metrics: StageMetrics; logger: Logger }) {
    this.source = source;
    this.metrics = metrics;
    this.logger = logger;
  }

  /** `position`: everything below is committed; `from`: what is folded next. */
  turned(state: TaskState, position: number, from: number, error?: Error): void {
    const { metrics, logger } = this;
    metrics.state(state);
    const { stage, topic, partition } = this.source;
    const at = { stage, topic, partition, position };
    if (state === "broken") logger.warn("task-broken", "the task drops what it did and folds it again from the log", { ...at, error });
    else if (state === "dropped")
      logger.info("task-dropped", "the task let go of its partition: the process stops, or another one has it now", at);
    else if (state === "fenced") logger.info("task-fenced", "whoever had the partition cannot write any more", at);
    else if (state === "recovering") logger.info("task-recovering", "folding again what the state depends on", { ...at, from });
    else logger.info("task-running", "the task is up to its position", at);
  }

  recovered(ms: number): void {
    this.metrics.recoveries.add(1);
    this.metrics.recovery.observe(ms / 1_000);
  }

  /** A chunk was folded, up to `next` of a partition that ends at `end`. */
  folded(fold: StageFold | null, ms: number, next: number, end: number): void {
    const { metrics } = this;
    metrics.fold.observe(ms / 1_000);
    metrics.behind.set(Math.max(0, end - next));
    if (fold === null) return;
    if (!Number.isNaN(fold.lastEventMs)) metrics.lastEventMs.set(fold.lastEventMs);
    if (!Number.isNaN(fold.lastTickMs)) metrics.lastTickMs.set(fold.lastTickMs);
  }

  committed(outputs: number, ms: number): void {
    const { metrics } = this;
    metrics.committed.add(1);
    metrics.out.add(outputs);
    metrics.commit.observe(ms / 1_000);
  }

  /** By what became of the transaction. */
  failed(error: Error): void {
    const { metrics } = this;
    if (error instanceof FencedError) metrics.fenced.add(1);
    else if (error instanceof UnknownOutcomeError) metrics.unknown.add(1);
    else metrics.failed.add(1);
  }

  /** The next owner publishes the same commit again: nothing is lost. */
  lastCommitLost(error: unknown): void {
    this.logger.debug("task-dropped", "the last commit did not go through; whoever is next folds it again", { error });
  }
}
