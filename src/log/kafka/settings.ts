import type { ConnectionOptions } from "node:tls";
import type { ISocketFactory, SASLOptions } from "kafkajs";

/** How a process reaches Kafka and what it calls itself there; secrets are resolved already (`kafka-config.ts`). */
export interface KafkaSettings {
  brokers: readonly string[];
  /** First part of every group and transactional id: two installations on one cluster differ in it. */
  application: string;
  /** Before every topic's name on the cluster; empty unless the cluster has other users of such names. */
  topicPrefix: string;
  tls?: ConnectionOptions | undefined;
  sasl?: SASLOptions | undefined;
  /** Of what the folds publish; zstd when left out. Records from outside go in as they come. */
  compression?: "zstd" | "none" | undefined;
  /** A member that is silent for so long is taken for dead. Lower: quicker take-over, more false ones. */
  sessionTimeoutMs: number;
  /** Folder in which members leave their name, so that a process killed and started again need not wait for its own death. */
  memberFolder?: string | undefined;
  /** Connections of a test that cuts them. */
  socketFactory?: ISocketFactory | undefined;
}

/** Within the broker's `group.min.session.timeout.ms` (6 s unless changed): as quick as a take-over gets with default brokers. */
export const SESSION_TIMEOUT_MS = 6_000;

/** Several heartbeats fit into the shortest session, so that one lost does no harm. */
export const HEARTBEAT_MS = 1_000;

/** How long a fetch waits for records. Also how long a partition that is resumed waits for the fetch before it to end. */
export const FETCH_WAIT_MS = 100;

/** How long members have to come back when partitions are shared anew. */
export const REBALANCE_TIMEOUT_MS = 10_000;

/**
 * An open transaction holds up every reader of the partitions it wrote to. One of a dead process is ended by whoever takes
 * over; this ends it when nobody does.
 */
export const TRANSACTION_TIMEOUT_MS = 10_000;

/** Of one request. Longer than any broker takes that is well, shorter than a person waits. */
export const REQUEST_TIMEOUT_MS = 10_000;
export const CONNECTION_TIMEOUT_MS = 3_000;

/**
 * kafkajs documents "retries for ever" for some of its parts and does six attempts, since an empty object is passed down
 * [source]: so every part is told. The first try again comes soon, because the commonest reason is a transaction just
 * ended whose markers are still being written, which takes a few milliseconds.
 */
export const RETRY = { initialRetryTime: 20, maxRetryTime: 1_000, factor: 0.2, multiplier: 2, retries: 8 } as const;

/** The group that shares out a stage's partitions. It commits nothing: see `positionsGroup`. */
export function membersGroup({ application }: KafkaSettings, stage: string): string {
  return `${application}.${stage}.members`;
}

/**
 * The group under which positions are committed. Not the members' own, because kafkajs writes to that one by itself when a
 * position is out of range, and would overwrite what only a transaction may change.
 */
export function positionsGroup({ application }: KafkaSettings, stage: string): string {
  return `${application}.${stage}`;
}

/** A claim's producer waits for the markers of its own last transaction, a few milliseconds, before each that follows soon. */
export const CLAIM_RETRY = { ...RETRY, initialRetryTime: 4, retries: 10 } as const;
