import { randomBytes } from "node:crypto";
import type { Railroad } from "../line/railroad.ts";
import type { Log, LogRecord, Tail } from "../log/log.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { DESK_TOPICS, type DeskRecord, deskRecordOf } from "./board/desk-record.ts";
import { type Changed, DeskState } from "./board/desk-state.ts";
import { History } from "./board/history.ts";
import type { DeskClock } from "./clock.ts";
import { Hub } from "./hub.ts";

/**
 * Records of one partition that the desk goes back at its start; the log may hold more. Passes are large and stand between
 * reports, of which the last ones do.
 */
const MOST_READ_BACK: Readonly<Record<string, number>> = { passes: 40_000, "site-reports": 20_000 };
const USUAL_READ_BACK = 250_000;
/** Records folded before others get their turn. */
const FOLD_SLICE = 100;

export interface DeskParts {
  log: Log;
  railroad: Railroad;
  book: RuleBook;
  clock: DeskClock;
  time: "arrival" | "feed";
}

/** The live state of the desk, kept up to date from the log, and who waits for something in it. */
export class Desk {
  readonly log: Log;
  readonly railroad: Railroad;
  readonly book: RuleBook;
  readonly clock: DeskClock;
  private readonly byArrival: boolean;
  readonly state: DeskState;
  readonly history: History;
  readonly hub: Hub;
  /** Records that could not be folded. */
  unreadable = 0;
  private tail: Tail | null = null;
  private readonly ends = new Map<string, number>();
  private readonly awaited = new Map<string, () => void>();
  /** Caught up with what the log held at the start. */
  private ready = false;
  private readonly whenReady: (() => void)[] = [];

  constructor({ log, railroad, book, clock, time }: DeskParts) {
    this.byArrival = time === "arrival";
    this.log = log;
    this.railroad = railroad;
    this.book = book;
    this.clock = clock;
    this.state = new DeskState(railroad, book);
    this.history = new History(railroad, book);
    this.hub = new Hub(randomBytes(6).toString("hex"));
  }

  /** Reads what the log holds, then on and on. Resolves once it has caught up. */
  async open(): Promise<void> {
    const from: { topic: string; partition: number; offset: number }[] = [];
    for (const topic of DESK_TOPICS) {
      for (const { partition, from: first, end } of await this.log.extent(topic)) {
        const offset = Math.max(first, end - (MOST_READ_BACK[topic] ?? USUAL_READ_BACK));
        from.push({ topic, partition, offset });
        if (end > offset) this.ends.set(`${topic}/${partition}`, end);
      }
    }
    this.tail = await this.log.tail(from, {
      records: async ({ topic, partition, records }) => {
        await this.fold(records);
        this.reached(`${topic}/${partition}`, (records.at(-1)?.offset ?? 0) + 1);
      },
    });
    if (this.ends.size === 0) this.ready = true;
    if (!this.ready) await new Promise<void>((resolve) => this.whenReady.push(resolve));
  }

  /** Settles when the log can be read no more: the process should end and be started again. */
  get broken(): Promise<Error> {
    return this.tail?.broken ?? new Promise(() => {});
  }

  /** Resolves true once an action came back from the log, so that whoever took it sees it; false when that takes too long. */
  awaitAction(id: string, withinMs: number): Promise<boolean> {
    return new Promise((resolve) => {
      const timer = setTimeout(() => {
        this.awaited.delete(id);
        resolve(false);
      }, withinMs);
      this.awaited.set(id, () => {
        clearTimeout(timer);
        this.awaited.delete(id);
        resolve(true);
      });
    });
  }

  async close(): Promise<void> {
    await this.tail?.close();
    this.hub.close();
  }

  private async fold(records: readonly LogRecord[]): Promise<void> {
    for (let i = 0; i < records.length; i++) {
      this.foldOne(records[i]!);
      if (i % FOLD_SLICE === FOLD_SLICE - 1) await new Promise((resolve) => setImmediate(resolve));
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
    this.history.add(record);
    for (const changed of changes) this.hub.add(changed);
    if (record.kind === "action") this.awaited.get(record.value.id)?.();
  }

  private reached(partition: string, offset: number): void {
    if (this.ready || offset < (this.ends.get(partition) ?? 0)) return;
    this.ends.delete(partition);
    if (this.ends.size > 0) return;
    this.ready = true;
    for (const resolve of this.whenReady) resolve();
  }
}
