import type { LogRecord, NewRecord, Position, Source } from "../log/log.ts";
import type { Outcome } from "./sink.ts";

/** Where a stage's fold puts what it has to say. `matters`: somebody waits for it, so it is to be committed at once. */
export interface Out {
  put(record: NewRecord, matters: boolean): void;
  /** For the numbers of a site of the line file, in passing: what it was, when by its own account, and how many axles. */
  saw?(site: string, what: Seen, atMs: number, axles: number): void;
}

export type Seen = "heartbeat" | "pass" | "rejected";

/** What a task folds: one partition of one input topic, record by record in the log's order. Pure but for `out`. */
export interface StageFold {
  /** Never throws for data. A throw is a fault of the program: the task recovers, and gives up when it happens again. */
  step(record: LogRecord, out: Out): Outcome;
  /** The lowest offset that the state at `position` depends on. */
  refoldFrom(position: number): number;
  /** Event time of the last record that had one, and of the last tick; milliseconds since the epoch, NaN before. */
  readonly lastEventMs: number;
  /** Time that the records folded so far have come to, for keeping partitions together; NaN where that does not matter. */
  readonly pacedMs: number;
  readonly lastTickMs: number;
}

/** A fresh state for a source, knowing nothing but where it is to begin and below which position everything was said before. */
export type MakeFold = (source: Source, start: Position) => StageFold;
