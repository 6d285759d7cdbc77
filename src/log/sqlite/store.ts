import { Worker } from "node:worker_threads";
import type { Delivery } from "../delivery.ts";
import { Group } from "../group.ts";
import { ClosedError, type NewRecord, NoRoomError, UnknownOutcomeError } from "../log.ts";
import { partitionOf } from "../partition-of.ts";
import { LogInUseError, LogUnreadableError } from "./errors.ts";
import { holdFolder, openForReading } from "./layout.ts";
import type { Done, Opened, Order, Placed, Reply, Request, WriterSettings } from "./order.ts";
import { SqliteShelf } from "./shelf.ts";

/** Old records are looked for this often. */
const TRIM_EVERY_MS = 10_000;
/** Orders in one transaction, at most. */
const TRANSACTION_ORDERS = 256;

interface Waiting {
  order: Order;
  resolve: (done: Done) => void;
  reject: (error: Error) => void;
}

export interface StoreSettings extends Omit<WriterSettings, "partitions" | "retentionMs"> {
  partitions: ReadonlyMap<string, number>;
  retentionMs?: ReadonlyMap<string, number>;
  /** Told when old records were taken out. */
  trimmed?: (records: number) => void;
}

/**
 * One data folder, open for writing: the thread that writes, what can be read, and whoever waits for records. Orders that
 * come while a transaction is under way share the next one.
 */
export class SqliteStore {
  readonly shelf: SqliteShelf;
  private readonly writer: Worker;
  private readonly release: () => void;
  private readonly closeReading: () => void;
  private readonly groups = new Map<string, Group>();
  private readonly tails = new Set<Delivery>();
  private readonly told: (records: number) => void;
  private readonly trimTimer: NodeJS.Timeout;
  private queue: Waiting[] = [];
  private running: Waiting[] = [];
  private requests = 0;
  private ended: Error | null = null;

  private constructor(writer: Worker, opened: Opened & { opened: true }, settings: StoreSettings, release: () => void) {
    this.writer = writer;
    this.release = release;
    this.told = settings.trimmed ?? (() => {});
    const reading = openForReading(settings.folder);
    this.closeReading = () => reading.close();
    this.shelf = new SqliteShelf(reading, opened.partitions);
    writer.on("message", (reply: Reply) => this.answer(reply));
    writer.on("error", (error) => this.end(error));
    writer.on("exit", () => this.end(new ClosedError("the thread that writes the log has ended")));
    this.trimTimer = setInterval(() => void this.trim(Date.now()).catch(() => {}), TRIM_EVERY_MS);
    this.trimTimer.unref();
  }

  /** @throws LogInUseError, LogUnreadableError */
  static async open(settings: StoreSettings): Promise<SqliteStore> {
    const release = holdFolder(settings.folder);
    const workerData: WriterSettings = {
      folder: settings.folder,
      partitions: [...settings.partitions],
      retentionMs: [...(settings.retentionMs ?? [])],
      mostBytes: settings.mostBytes,
    };
    const writer = new Worker(new URL("./writer.ts", import.meta.url), { workerData });
    const opened = await new Promise<Opened>((resolve, reject) => {
      writer.once("message", resolve);
      writer.once("error", reject);
    });
    if (opened.opened) return new SqliteStore(writer, opened, settings, release);
    release();
    throw opened.code.startsWith("LOG-008") ? new LogInUseError(opened.why) : new LogUnreadableError(opened.why);
  }

  /** Where each record goes. @throws UnknownTopicError before anything was taken */
  place(records: readonly NewRecord[]): Placed[] {
    return records.map(({ topic, key, value, headers = {}, partition }) => {
      const at = partition ?? partitionOf(key, this.shelf.partitions(topic));
      this.shelf.at(topic, at);
      return { topic, partition: at, key, value: typeof value === "string" ? Buffer.from(value, "utf8") : value, headers };
    });
  }

  /** Resolves when it is on the disk. @throws NoRoomError, UnknownOutcomeError, ClosedError */
  do(order: Order): Promise<Done> {
    if (this.ended !== null) return Promise.reject(this.ended);
    return new Promise((resolve, reject) => {
      this.queue.push({ order, resolve, reject });
      // What else is asked for in this turn goes into the same transaction.
      if (this.running.length === 0 && this.queue.length === 1) queueMicrotask(() => this.send());
    });
  }

  /** Takes out what is older than its topic keeps. */
  async trim(nowMs: number): Promise<void> {
    const done = await this.do({ kind: "trim", nowMs });
    if (done.kind !== "trimmed" || done.trimmed.length === 0) return;
    let records = 0;
    for (const { topic, partition, first } of done.trimmed) records += first - this.shelf.first(topic, partition);
    this.shelf.trimmed(done.trimmed);
    this.told(records);
  }

  group(stage: string, topics: readonly string[]): Group {
    let group = this.groups.get(stage);
    if (group === undefined) {
      group = new Group(stage, topics, (topic) => this.shelf.partitions(topic), this.shelf);
      this.groups.set(stage, group);
    }
    return group;
  }

  addTail(delivery: Delivery): void {
    this.tails.add(delivery);
  }

  dropTail(delivery: Delivery): void {
    this.tails.delete(delivery);
  }

  /** What was asked for is done first. */
  async close(): Promise<void> {
    clearInterval(this.trimTimer);
    while (this.ended === null && (this.queue.length > 0 || this.running.length > 0)) {
      await new Promise((resolve) => setImmediate(resolve));
    }
    if (this.ended === null) {
      const exited = new Promise((resolve) => this.writer.once("exit", resolve));
      this.writer.postMessage("close");
      await exited;
    }
    this.closeReading();
    this.release();
  }

  private send(): void {
    if (this.running.length > 0 || this.queue.length === 0) return;
    this.running = this.queue.splice(0, TRANSACTION_ORDERS);
    this.writer.postMessage({ id: ++this.requests, orders: this.running.map(({ order }) => order) } satisfies Request);
  }

  private answer(reply: Reply): void {
    const { running } = this;
    this.running = [];
    if (reply.outcome === "done") for (const [at, done] of reply.done.entries()) this.settle(running[at]!, done);
    else {
      const error = errorOf(reply);
      for (const { reject } of running) reject(error);
    }
    this.send();
  }

  private settle({ order, resolve }: Waiting, done: Done): void {
    if (done.kind === "written" && (order.kind === "append" || order.kind === "commit")) {
      this.shelf.written(order.records, done);
      const woken = new Set<string>();
      for (const { topic, partition } of order.records) {
        const name = `${topic}/${partition}`;
        if (woken.has(name)) continue;
        woken.add(name);
        for (const group of this.groups.values()) group.wake(topic, partition);
        for (const tail of this.tails) if (tail.topic === topic && tail.partition === partition) tail.wake();
      }
    }
    resolve(done);
  }

  private end(error: Error): void {
    if (this.ended !== null) return;
    this.ended = error;
    for (const { reject } of [...this.running, ...this.queue]) reject(new UnknownOutcomeError(error.message));
    this.running = [];
    this.queue = [];
  }
}

function errorOf({ outcome, why }: Exclude<Reply, { outcome: "done" }>): Error {
  switch (outcome) {
    case "no-room":
      return new NoRoomError(`the data folder has no room left (${why}). Free some space: nothing was taken, and it goes on by itself.`);
    case "unknown":
      return new UnknownOutcomeError(`the disk failed in the middle of a commit (${why})`);
    case "failed":
      return new Error(`the log could not be written: ${why}`);
  }
}
