import { randomBytes } from "node:crypto";
import type { Railroad } from "../line/railroad.ts";
import type { Log, LogRecord, Tail } from "../log/log.ts";
import { holdsRecords } from "../log/second-reader.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { type DeskRecord, deskRecordOf } from "./board/desk-record.ts";
import { type Changed, DeskState } from "./board/desk-state.ts";
import type { DeskClock } from "./clock.ts";
import { Hub } from "./hub.ts";
import { Past } from "./past/past.ts";
import { BEFORE_PASSES, PASSES, type Reach, wantedOf } from "./past/reach.ts";
import { Turn } from "./turn.ts";

/** A partition that hands out nothing for so long while the desk opens is looked at by a second reader: does it hold more? */
const QUIET_MS = 10_000;

/** How long opening waits to know how far back can be looked. */
const BEGIN_MS = 2_000;

export interface DeskParts {
  log: Log;
  railroad: Railroad;
  book: RuleBook;
  clock: DeskClock;
  time: "arrival" | "feed";
  /** Tests only. */
  quietMs?: number;
}

/** The live state of the desk, kept up to date from the log, and who waits for something in it. */
export class Desk {
  readonly log: Log;
  readonly clock: DeskClock;
  readonly byArrival: boolean;
  readonly state: DeskState;
  readonly past: Past;
  readonly hub: Hub;
  /** Records that could not be folded. */
  unreadable = 0;
  /** Settles when the log can be read no more: the process should end and be started again. */
  readonly broken: Promise<Error>;
  private readonly fail: (error: Error) => void;
  private readonly quietMs: number;
  private readonly tails: Tail[] = [];
  /** Offset up to which each partition is folded, and who waits for one. */
  private readonly reached = new Map<string, number>();
  private awaitedOffsets: { partition: string; offset: number; done: () => void }[] = [];
  private readonly awaited = new Map<string, () => void>();
  private isOpen = false;
  private isClosed = false;

  constructor({ log, railroad, book, clock, time, quietMs = QUIET_MS }: DeskParts) {
    this.byArrival = time === "arrival";
    this.log = log;
    this.clock = clock;
    this.quietMs = quietMs;
    this.state = new DeskState(railroad, book);
    this.past = new Past({ log, railroad, book, byArrival: this.byArrival });
    this.hub = new Hub(randomBytes(6).toString("hex"));
    const { promise, resolve } = Promise.withResolvers<Error>();
    this.broken = promise;
    this.fail = resolve;
  }

  /** The rules in force, as known here. */
  get book(): RuleBook {
    return this.state.book;
  }

  /**
   * Reads what the log holds, then on and on. Resolves once it has caught up, however long that takes: a desk that knew less
   * than the log would pass for one that knows. @throws what broke the log meanwhile
   */
  async open(): Promise<void> {
    await this.follow(BEFORE_PASSES);
    await this.follow(PASSES);
    // Asked now, so that the first page knows it; what cannot be asked soon is said when somebody looks back.
    const begun = this.past.begins().catch(() => null);
    await Promise.race([begun, new Promise((resolve) => setTimeout(resolve, BEGIN_MS).unref())]);
    this.isOpen = true;
  }

  /** Resolves true once an action came back from the log, so that whoever took it sees it; false when that takes too long. */
  awaitAction(id: string, withinMs: number): Promise<boolean> {
    return new Promise((resolve) => {
      const over = (isBack: boolean) => {
        clearTimeout(timer);
        if (this.awaited.get(id) === back) this.awaited.delete(id);
        resolve(isBack);
      };
      const back = () => over(true);
      const timer = setTimeout(() => over(false), withinMs);
      this.awaited.set(id, back);
    });
  }

  /**
   * Resolves true once everything before an offset of a partition (`topic/number`) is folded: it was reached, or nothing has
   * come for `quietMs` and a second reader finds no record there either. False when that is not so within `withinMs`, or the
   * desk was closed.
   */
  async caughtUp(partition: string, offset: number, quietMs: number, withinMs = Number.POSITIVE_INFINITY): Promise<boolean> {
    const endsAt = performance.now() + withinMs;
    while (!this.isClosed) {
      const before = this.reachedOf(partition);
      if (await this.awaitOffset(partition, offset, quietMs)) return true;
      if (this.reachedOf(partition) === before && (await this.isAll(partition, before, offset, quietMs))) return true;
      if (performance.now() >= endsAt) return false;
    }
    return false;
  }

  /** Whether a partition holds no record between two offsets. While the log does not answer nobody can tell. */
  private async isAll(name: string, from: number, end: number, withinMs: number): Promise<boolean> {
    const at = name.lastIndexOf("/");
    const between = { topic: name.slice(0, at), partition: Number(name.slice(at + 1)), from, end };
    try {
      return !(await holdsRecords(this.log, between, withinMs));
    } catch {
      return false;
    }
  }

  private awaitOffset(name: string, offset: number, withinMs: number): Promise<boolean> {
    if (this.reachedOf(name) >= offset) return Promise.resolve(true);
    return new Promise((resolve) => {
      const one = { partition: name, offset, done: () => over(true) };
      const timer = setTimeout(() => over(false), withinMs);
      const over = (isReached: boolean) => {
        clearTimeout(timer);
        this.awaitedOffsets = this.awaitedOffsets.filter((other) => other !== one);
        resolve(isReached);
      };
      this.awaitedOffsets.push(one);
    });
  }

  /** Offset before which everything of a partition is folded. */
  reachedOf(partition: string): number {
    return this.reached.get(partition) ?? 0;
  }

  async close(): Promise<void> {
    this.isClosed = true;
    await Promise.all(this.tails.map((tail) => tail.close()));
    this.hub.close();
  }

  /** Follows some topics from where their reach begins; resolves once it has what they held when it was called. */
  private async follow(reaches: readonly Reach[]): Promise<void> {
    const wanted = await wantedOf(this.log, reaches, this.byArrival ? this.clock.nowMs() : null);
    const extents = await Promise.all(reaches.map(async ({ topic }) => (await this.log.extent(topic)).map((one) => ({ topic, ...one }))));
    const ends = new Map(extents.flat().map(({ topic, partition, end }) => [`${topic}/${partition}`, end]));
    const from = wanted.map(({ stretch: { topic, partition, from: offset } }) => ({ topic, partition, offset }));
    for (const { topic, partition, offset } of from) this.reached.set(`${topic}/${partition}`, offset);
    const tail = await this.log.tail(from, {
      records: async ({ topic, partition, records, through }) => {
        await this.fold(records);
        this.reach(`${topic}/${partition}`, Math.max((records.at(-1)?.offset ?? -1) + 1, through ?? 0));
      },
    });
    this.tails.push(tail);
    void tail.broken.then(this.fail);
    const caughtUp = Promise.all([...ends].map(([name, end]) => this.caughtUp(name, end, this.quietMs)));
    const broke = await Promise.race([caughtUp.then(() => null), tail.broken]);
    if (broke !== null) throw broke;
  }

  private async fold(records: readonly LogRecord[]): Promise<void> {
    const turn = new Turn();
    for (const record of records) {
      this.foldOne(record);
      await turn.over();
    }
  }

  /** What cannot be folded (another program may write these topics) is counted and left out; it stops nobody. */
  private foldOne(raw: LogRecord): void {
    let record: DeskRecord | null;
    let changes: Changed[];
    try {
      record = deskRecordOf(raw, this.byArrival);
      changes = record === null ? [] : this.state.fold(record);
    } catch {
      this.unreadable++;
      return;
    }
    if (record === null) return;
    // While it opens nobody listens.
    if (this.isOpen) for (const changed of changes) this.hub.add(changed);
    if (record.kind === "action") this.awaited.get(record.value.id)?.();
  }

  private reach(partition: string, offset: number): void {
    this.reached.set(partition, Math.max(offset, this.reached.get(partition) ?? 0));
    for (const one of this.awaitedOffsets) if (one.partition === partition && one.offset <= offset) one.done();
  }
}
