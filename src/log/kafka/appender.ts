import { setTimeout as sleep } from "node:timers/promises";
import type { Producer } from "kafkajs";
import { ClosedError, type NewRecord, OverloadedError, TooLargeError, UnknownOutcomeError } from "../log.ts";
import { kafkaClient } from "./client.ts";
import type { Cluster } from "./cluster.ts";
import { isFinal, wordsOf } from "./faults.ts";
import { allTaken, asPlaced, type Placed, roundsOf, topicMessages } from "./rounds.ts";
import { RETRY } from "./settings.ts";
import { atMost } from "./within.ts";

/** Bytes on their way into the log at once. */
export const WAITING_BYTES = 16 * 1024 * 1024;
const CLOSE_WITHIN_MS = 2_000;
/** Whoever waits for an answer is told after this that none is known. A broker is back from a restart within seconds. */
const SEND_WITHIN_MS = 15_000;
const SEND_PAUSE_MS = 50;
const SEND_PAUSE_MAX_MS = 1_000;

interface Call {
  records: Placed[];
  resolve: () => void;
  reject: (error: Error) => void;
}

/**
 * Records from outside the folds: whatever has come while one send was under way goes out with the next, in order. A send
 * that the client had to repeat can put a record into the log twice, which changes nothing: the folds know a repeat.
 */
export class Appender {
  private readonly cluster: Cluster;
  private readonly limit: number;
  private connected: Promise<Producer> | null = null;
  private queue: Call[] = [];
  private waiting = 0;
  private pumping: Promise<void> | null = null;
  private closed = false;

  constructor(cluster: Cluster, limit: number = WAITING_BYTES) {
    this.cluster = cluster;
    this.limit = limit;
  }

  /** Resolves when every in-sync replica has them. */
  async append(news: readonly NewRecord[]): Promise<void> {
    if (this.closed) throw new ClosedError("the log was closed");
    if (news.length === 0) return;
    const records = await this.cluster.place(news);
    const bytes = records.reduce((sum, record) => sum + record.bytes, 0);
    if (bytes > this.limit) throw new TooLargeError(`${bytes} bytes at once; the log takes ${this.limit}`);
    if (this.waiting + bytes > this.limit) throw new OverloadedError(`${this.waiting} bytes are waiting already, of ${this.limit}`);
    this.waiting += bytes;
    try {
      await new Promise<void>((resolve, reject) => {
        this.queue.push({ records, resolve, reject });
        this.pumping ??= this.pump();
      });
    } finally {
      this.waiting -= bytes;
    }
  }

  async close(): Promise<void> {
    this.closed = true;
    if (this.pumping !== null) await atMost(CLOSE_WITHIN_MS, this.pumping);
    const { connected } = this;
    this.connected = null;
    if (connected !== null)
      await atMost(
        CLOSE_WITHIN_MS,
        connected.then((producer) => producer.disconnect()),
      );
  }

  private async pump(): Promise<void> {
    while (this.queue.length > 0) {
      const calls = this.queue;
      this.queue = [];
      try {
        for (const round of roundsOf(calls.flatMap((call) => call.records))) await this.send(round);
        for (const call of calls) call.resolve();
      } catch (error) {
        for (const call of calls) call.reject(new UnknownOutcomeError(`not known to be in the log: ${wordsOf(error)}`, { cause: error }));
      }
    }
    this.pumping = null;
  }

  /**
   * A broker that is away for a short while, as for a restart, is waited for. kafkajs gives up at the first connection that
   * is refused while it knows no other broker [seen], so the waiting is done here, each time with a new producer.
   */
  private async send(round: readonly Placed[]): Promise<void> {
    const deadlineMs = performance.now() + SEND_WITHIN_MS;
    for (let pauseMs = SEND_PAUSE_MS; ; pauseMs = Math.min(pauseMs * 2, SEND_PAUSE_MAX_MS)) {
      try {
        const producer = await this.producer();
        allTaken(round, await producer.sendBatch({ topicMessages: topicMessages(round), acks: -1 }));
        return;
      } catch (error) {
        if (this.closed || isFinal(error) || performance.now() + pauseMs > deadlineMs) throw error;
        const { connected } = this;
        this.connected = null;
        if (connected !== null)
          void atMost(
            CLOSE_WITHIN_MS,
            connected.then((producer) => producer.disconnect()),
          );
        await sleep(pauseMs);
      }
    }
  }

  private producer(): Promise<Producer> {
    this.connected ??= this.connect();
    return this.connected;
  }

  private async connect(): Promise<Producer> {
    const { settings, logger } = this.cluster;
    try {
      const producer = kafkaClient(settings, logger, "append").producer({
        allowAutoTopicCreation: false,
        createPartitioner: asPlaced,
        retry: RETRY,
      });
      await producer.connect();
      return producer;
    } catch (error) {
      this.connected = null;
      throw error;
    }
  }
}
