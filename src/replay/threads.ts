import { Worker } from "node:worker_threads";
import { partsOf } from "../line/railroad-of.ts";
import { inOrder, type Published } from "./published.ts";
import { ShareFold, type ShareFoldOptions, type ShareStanding } from "./share-fold.ts";
import { dealt } from "./shares.ts";
import { stepped } from "./stepped.ts";
import type { Step, Stepped, ThreadWork } from "./thread-messages.ts";

/** Memory of one piece of a feed, and how many of them are under way at most: so far ahead of the slowest thread is read. */
const PIECE_BYTES = 256 * 1024;
export const MOST_STEPS = 16;

export type ThreadsOptions = Omit<ShareFoldOptions, "corridors" | "isFirst"> & {
  /** Threads wanted, this one among them. */
  threads: number;
  /** Called step by step with what all threads together published, in one order. */
  publish: (published: readonly Published[], standing: ShareStanding, feedBytes: number) => void;
};

interface UnderWay {
  step: Step;
  feedBytes: number;
  /** By thread, this one first. */
  answers: Stepped[];
}

/**
 * A day folded by several threads: this one reads the feed, folds a share of the corridors itself and puts in order what comes
 * out of all. Each of the others sees every byte as well, in memory that all share, and folds its own corridors. They begin
 * only when a feed turns out to be longer than what is read ahead: a short one is folded by this thread alone.
 */
export class Threads {
  readonly #options: ThreadsOptions;
  readonly #memory = new SharedArrayBuffer(MOST_STEPS * PIECE_BYTES);
  readonly #workers: Worker[] = [];
  /** Steps not yet answered by all, the oldest first. */
  readonly #underWay: UnderWay[] = [];
  readonly #standings: ShareStanding[] = [];
  #own: ShareFold | null = null;
  #pieces = 0;
  #feedBytes = 0;
  #failure: Error | null = null;
  #wake: (() => void) | null = null;

  constructor(options: ThreadsOptions) {
    this.#options = options;
  }

  /** Bytes of a feed; `feedBytes`: how far all feeds are read with them. Waits while too much is under way. */
  async piece(feed: number, bytes: Buffer, feedBytes: number): Promise<void> {
    this.#feedBytes = feedBytes;
    for (let from = 0; from < bytes.length; from += PIECE_BYTES) {
      await this.#room();
      const piece = bytes.subarray(from, from + PIECE_BYTES);
      const at = (this.#pieces++ % MOST_STEPS) * PIECE_BYTES;
      piece.copy(new Uint8Array(this.#memory, at, piece.length));
      this.#take({ type: "piece", feed, at, bytes: piece.length });
    }
  }

  async feedEnd(feed: number): Promise<void> {
    await this.#room();
    this.#take({ type: "feed-end", feed });
  }

  /** The end of the last feed. The account is this thread's: what the others counted is in it. */
  async finish(): Promise<ShareFold> {
    await this.#room();
    this.#take({ type: "finish" });
    return await this.settled();
  }

  /** Everything so far folded and published. */
  async settled(): Promise<ShareFold> {
    const own = this.#own ?? this.#begin(1);
    while (this.#underWay.length > 0) await this.#moveOn(own);
    return own;
  }

  /** Ends the other threads, whatever they are at. */
  async close(): Promise<void> {
    await Promise.all(this.#workers.map((worker) => worker.terminate()));
  }

  async #room(): Promise<void> {
    while (this.#underWay.length >= MOST_STEPS) await this.#moveOn(this.#own ?? this.#begin(this.#options.threads));
  }

  #take(step: Step): void {
    this.#underWay.push({ step, feedBytes: this.#feedBytes, answers: [] });
    for (const worker of this.#workers) worker.postMessage(step);
  }

  /** Folds a step here, or waits for the others; publishes what all have folded. */
  async #moveOn(own: ShareFold): Promise<void> {
    if (this.#failure !== null) throw this.#failure;
    const next = this.#underWay.find(({ answers }) => answers[0] === undefined);
    if (next !== undefined) {
      this.#answer(0, stepped(own, next.step, this.#memory));
      // The others' answers come between two turns.
      await new Promise<void>((resolve) => setImmediate(resolve));
    } else if (this.#isOldestOpen()) {
      await new Promise<void>((resolve) => {
        this.#wake = resolve;
      });
    }
    this.#publish(own);
  }

  #begin(threads: number): ShareFold {
    const { railroad, rules, narrow, order, withFiles } = this.#options;
    const [ownCorridors = [], ...shares] = dealt(railroad, threads);
    this.#own = new ShareFold({ ...this.#options, corridors: ownCorridors, isFirst: true });
    for (const corridors of shares) {
      const work = {
        railroad: partsOf(railroad),
        rules: rules.sets,
        narrow: narrow.asked,
        order,
        corridors,
        withFiles,
        memory: this.#memory,
      };
      this.#workers.push(this.#workerOf(work, this.#workers.length + 1));
    }
    for (const { step } of this.#underWay) for (const worker of this.#workers) worker.postMessage(step);
    return this.#own;
  }

  #workerOf(workerData: ThreadWork, thread: number): Worker {
    const worker = new Worker(new URL("./thread-entry.ts", import.meta.url), { workerData });
    worker.on("message", (answer: Stepped) => this.#answer(thread, answer));
    worker.on("error", (error: Error) => this.#fail(error));
    worker.on("messageerror", (error: Error) => this.#fail(error));
    worker.on("exit", () => {
      if (this.#underWay.some(({ answers }) => answers[thread] === undefined)) this.#fail(new Error(`thread ${thread} ended early`));
    });
    return worker;
  }

  #fail(error: Error): void {
    this.#failure ??= error;
    this.#wake?.();
  }

  #answer(thread: number, answer: Stepped): void {
    const step = this.#underWay.find(({ answers }) => answers[thread] === undefined);
    if (step === undefined) throw new Error(`thread ${thread} answered more steps than there are`);
    step.answers[thread] = answer;
    this.#standings[thread] = answer.standing;
    if (!this.#isOldestOpen()) this.#wake?.();
  }

  /** Whether the oldest step is not yet answered by all. */
  #isOldestOpen(): boolean {
    const oldest = this.#underWay[0];
    if (oldest === undefined) return false;
    for (let thread = 0; thread <= this.#workers.length; thread++) if (oldest.answers[thread] === undefined) return true;
    return false;
  }

  #publish(own: ShareFold): void {
    while (this.#underWay.length > 0 && !this.#isOldestOpen()) {
      const { answers, feedBytes } = this.#underWay.shift()!;
      for (const { part } of answers.slice(1)) if (part !== null) own.account.add(part);
      const published = inOrder(answers.map((answer) => answer.published));
      for (const { rejected } of published) if (rejected !== null) own.account.addRejected(rejected);
      this.#options.publish(published, this.#standing(), feedBytes);
    }
  }

  #standing(): ShareStanding {
    let [axles, eventMs, warnings] = [0, Number.NEGATIVE_INFINITY, 0];
    for (const standing of this.#standings) {
      axles += standing.axles;
      eventMs = Math.max(eventMs, standing.eventMs);
      warnings += standing.warnings;
    }
    return { axles, eventMs, warnings };
  }
}
