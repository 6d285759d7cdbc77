import { sourceKey } from "../log/group.ts";
import type { Batch, Log, Membership, Source, Worker } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { Metrics } from "../telemetry/metrics.ts";
import type { Clock } from "./clock.ts";
import { Pace } from "./pace.ts";
import type { MakeFold } from "./stage-fold.ts";
import { Task, type TaskState } from "./task.ts";

/** A task that has something to do and does nothing for so long ends the process; a supervisor starts it again. */
export const STALLED_MS = 120_000;
const LOOK_EVERY_MS = 30_000;

export interface StageParts {
  name: string;
  topics: readonly string[];
  make: MakeFold;
  log: Log;
  clock: Clock;
  metrics: Metrics;
  logger: Logger;
}

export interface RunningStage {
  /** Settles when the stage cannot go on: the process must end. */
  readonly broken: Promise<Error>;
  states(): { source: Source; state: TaskState }[];
  /** The partitions that are not worked on right now, in words; null when all are. */
  unready(): string | null;
  /** What is folded is committed, every claim given back. */
  close(): Promise<void>;
}

interface Held {
  task: Task;
  signal: AbortSignal;
}

/** Makes this process a member of a stage: a task for each partition that it is given. */
export async function startStage(parts: StageParts): Promise<RunningStage> {
  const { name, topics, log, clock, logger } = parts;
  const held = new Map<string, Held>();
  const pace = new Pace();
  const { promise: broken, resolve: fail } = Promise.withResolvers<Error>();
  let membership: Membership | null = null;

  const worker: Worker = {
    assigned: async (source, signal) => {
      const { topic, partition } = source;
      held.get(sourceKey(source))?.task.drop();
      const task = new Task({
        source,
        log,
        make: parts.make,
        clock,
        metrics: parts.metrics.stage(name, topic, partition),
        sites: parts.metrics,
        logger,
        pace,
        pause: () => membership?.pause(source),
        resume: (from) => membership?.resume(source, from),
        failed: fail,
      });
      held.set(sourceKey(source), { task, signal });
      return await task.take(signal);
    },
    records: async (source, batch: Batch) => {
      const here = held.get(sourceKey(source));
      await here?.task.records(batch, here.signal);
    },
    revoked: async (source) => {
      const here = held.get(sourceKey(source));
      if (here === undefined || !here.signal.aborted) return;
      held.delete(sourceKey(source));
      await here.task.giveBack();
    },
  };

  membership = await log.work(name, topics, worker);
  void membership.broken.then(fail);
  logger.info("member-joined", `this process takes part in ${name}`, { stage: name, topics });
  const cancelWatch = watch(clock, held, (source, stalledMs) => {
    logger.error("task-stalled", "the task has records to fold and folds none", { ...source, stalledMs });
    fail(new Error(`${sourceKey(source)} has not moved for ${Math.round(stalledMs / 1_000)} s although there is something to read`));
  });
  return {
    broken,
    states: () => [...held.values()].map(({ task }) => ({ source: task.source, state: task.state })),
    unready: () => notRunning([...held.values()].map(({ task }) => task)),
    close: async () => {
      cancelWatch();
      await membership.leave();
      logger.info("member-left", `this process takes part in ${name} no more`, { stage: name });
    },
  };
}

/** `site-reports/0 recovering`, one after another. */
function notRunning(tasks: readonly Task[]): string | null {
  const idle = tasks.filter(({ state }) => state !== "running");
  return idle.length === 0 ? null : idle.map(({ source, state }) => `${source.topic}/${source.partition} ${state}`).join(", ");
}

/** Looks at every task from time to time. Answers with what ends the looking. */
function watch(clock: Clock, held: ReadonlyMap<string, Held>, stalled: (source: Source, ms: number) => void): () => void {
  let cancel = () => {};
  const look = () => {
    cancel = clock.after(LOOK_EVERY_MS, look);
    for (const { task } of held.values()) {
      const ms = task.stalledMs(clock.now());
      if (ms >= STALLED_MS) stalled(task.source, ms);
    }
  };
  cancel = clock.after(LOOK_EVERY_MS, look);
  return () => cancel();
}
