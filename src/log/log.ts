/** A record as the log holds it. `value` is the record's JSON as bytes; a reader must not change them. */
export interface LogRecord {
  topic: string;
  partition: number;
  offset: number;
  key: string | null;
  value: Uint8Array;
  headers: Readonly<Record<string, string>>;
  /**
   * When the log took the record, by the log's own clock, in milliseconds since the epoch (Kafka: LogAppendTime). Part of
   * the record: whoever reads it again sees the same. It says when a record came; what happened when is in its value.
   */
  arrivedMs: number;
}

/** A record on its way into the log. The partition follows from the key (`partitionOf`) unless it is given. */
export interface NewRecord {
  topic: string;
  key: string;
  value: Uint8Array | string;
  headers?: Readonly<Record<string, string>> | undefined;
  partition?: number | undefined;
}

/** One partition of one input topic, as one stage reads it. At most one owner commits for it at any time. */
export interface Source {
  stage: string;
  topic: string;
  partition: number;
}

/** Where a task stands: everything below `position` is folded and its outputs are committed. */
export interface Position {
  position: number;
  /** Lowest offset that the state at `position` depends on: folding from here with outputs dropped restores it. */
  refoldFrom: number;
}

/** Outputs and position of one commit: both are in the log, or neither is. */
export interface Commit extends Position {
  outputs: readonly NewRecord[];
}

/**
 * The right to commit for a source. Taking it fences whoever held it, so `start` is stable from then on.
 * `commit` throws FencedError when another owner took over, UnknownOutcomeError when nobody can tell whether it went
 * through: the claim is then of no use any more; a new one must be taken and its `start` read again. Never retried here.
 */
export interface Claim {
  readonly source: Source;
  readonly start: Position;
  commit(commit: Commit): Promise<void>;
  release(): Promise<void>;
}

/** What a member of a stage does with the partitions given to it. Neither call may throw for data. */
export interface Worker {
  /**
   * The partition is ours now: claim it and answer with the offset to read from. Nothing is delivered before the answer.
   * `signal` aborts when the partition is taken away or the log is closed.
   */
  assigned(source: Source, signal: AbortSignal): Promise<number>;
  /** Records in order, without a gap. The log waits for the answer before it delivers more: that is the back pressure. */
  records(source: Source, batch: Batch): Promise<void>;
  /** The partition went to somebody else. Records may still be under way; the claim's fence keeps them harmless. */
  revoked(source: Source): Promise<void>;
}

export interface Batch {
  records: readonly LogRecord[];
  /**
   * Whatever the log holds from here up to the first of the records was handed over before, or retention took it; left out
   * by logs that cannot leave anything out.
   */
  from?: number | undefined;
  /** Offset after the partition's last committed record when the batch was read: how far behind the reader is. */
  end: number;
  /** Before it the reader has everything there is, where a log counts marks of its own after the last record; left out: that is the last. */
  through?: number | undefined;
  /** To be awaited between chunks of at most 50 ms of work; a member that does not is taken for dead. */
  heartbeat(): Promise<void>;
  /** The partition is no longer ours: stop folding, drop what was not committed. */
  readonly stale: boolean;
}

/** A member of a stage. The members of a stage share its partitions, whatever processes they live in. */
export interface Membership {
  /** Stops reading a source until `resume`, from the offset given: a task that recovers uses it. */
  pause(source: Source): void;
  resume(source: Source, from: number): void;
  /** Resolves after the last `records` has answered. */
  leave(): Promise<void>;
  /** Settles when the member cannot go on by itself: the process must end so that a supervisor starts it again. */
  readonly broken: Promise<Error>;
}

/** A plain reader of a topic: no membership, no position kept. Committed records only, each partition in order. */
export interface Tail {
  close(): Promise<void>;
  readonly broken: Promise<Error>;
}

export interface TailHandler {
  /** The log waits for the answer before it delivers more of the same partition. */
  records(batch: Omit<Batch, "heartbeat" | "stale"> & { topic: string; partition: number }): Promise<void>;
}

/**
 * The log that everything passes through; three kinds, held together by one contract suite (`tests/log/contract.ts`):
 * memory (tests), sqlite (one machine, the default), kafka.
 */
export interface Log {
  partitions(topic: string): Promise<number>;
  /** First and next offset of each partition of a topic, committed records only. */
  extent(topic: string): Promise<{ partition: number; from: number; end: number }[]>;
  /** Offset of the first record of each partition that the log took at a time or later; where there is none, the next one to come. */
  offsetsAt(topic: string, timeMs: number): Promise<{ partition: number; offset: number }[]>;
  /** From outside the folds (feed, desk actions, ticks). Resolves when durable; OverloadedError when too much is waiting. */
  append(records: readonly NewRecord[]): Promise<void>;
  claim(source: Source): Promise<Claim>;
  /** Becomes a member of `stage` for all partitions of `topics`. */
  work(stage: string, topics: readonly string[], worker: Worker): Promise<Membership>;
  /** Reads topics from the given offset of each partition (see `extent`), on and on as records come. */
  tail(from: readonly { topic: string; partition: number; offset: number }[], handler: TailHandler): Promise<Tail>;
  close(): Promise<void>;
}

/** Another owner took the source over. The task ends quietly. */
export class FencedError extends Error {
  readonly code = "LOG-001 fenced";
}

/** A commit whose outcome nobody can tell. The task takes a new claim and recovers. */
export class UnknownOutcomeError extends Error {
  readonly code = "LOG-002 outcome-unknown";
}

/** More is waiting than the log may hold. Try again after a while; nothing of the call was taken. */
export class OverloadedError extends Error {
  readonly code = "LOG-003 overloaded";
}

/** The log has no room: the disk is full. Nothing of the call was taken; it may be tried again once there is room. */
export class NoRoomError extends Error {
  readonly code = "LOG-004 no-room";
}

/** The log has no such topic or partition, or it has fewer partitions than asked for. */
export class UnknownTopicError extends Error {
  readonly code = "LOG-005 unknown-topic";
}

/** Nobody answers where the log should be. The message says who was asked, and what to look at. */
export class UnreachableError extends Error {
  readonly code = "LOG-010 unreachable";
}

/** The log was closed. */
export class ClosedError extends Error {
  readonly code = "LOG-006 closed";
}

/** The records of one call are more than the log takes at once. Send less. */
export class TooLargeError extends Error {
  readonly code = "LOG-007 too-large";
}
