import type { DatabaseSync, StatementSync } from "node:sqlite";
import type { Done, Opened, Order, Placed, Reply, Request, Trimmed, WriterSettings } from "./order.ts";

/** SQLite's own codes [P: sqlite.org/rescode.html]: no room on the disk, and errors of reading or writing the file. */
const SQLITE_FULL = 13;
const SQLITE_IOERR = 10;
/** The low byte of an extended code is the code. */
const CODE_MASK = 0xff;

/** Records taken out in one transaction, so that nobody waits long for it. */
const TRIM_RECORDS = 5_000;

interface Partition {
  first: number;
  next: number;
  arrivedMs: number;
}

/**
 * All that writes to the log's file: one transaction for each request, so that many appends and commits share one trip to
 * the disk. What a transaction does to `partitions` counts only when it went through.
 */
export class Writing {
  private readonly db: DatabaseSync;
  private readonly retentionMs: ReadonlyMap<string, number>;
  private readonly now: () => number;
  private readonly partitions = new Map<string, Partition>();
  private readonly touched = new Map<string, Partition>();
  private readonly statements: Record<
    "insert" | "next" | "standing" | "epoch" | "position" | "needed" | "old" | "drop" | "first",
    StatementSync
  >;

  constructor(db: DatabaseSync, settings: WriterSettings, now: () => number = Date.now) {
    this.db = db;
    this.now = now;
    this.retentionMs = new Map(settings.retentionMs);
    for (const [topic, count] of settings.partitions) {
      for (let partition = 0; partition < count; partition++) {
        db.prepare("INSERT INTO partition VALUES (?, ?, 0, 0, 0) ON CONFLICT DO NOTHING").run(topic, partition);
      }
    }
    for (const row of db.prepare("SELECT topic, partition, first, next, arrived FROM partition").all()) {
      const { topic, partition, first, next, arrived } = row as Record<string, number> & { topic: string };
      this.partitions.set(`${topic}/${partition}`, { first: first!, next: next!, arrivedMs: arrived! });
    }
    this.statements = {
      insert: db.prepare("INSERT INTO record VALUES (?, ?, ?, ?, ?, ?, ?)"),
      next: db.prepare("UPDATE partition SET next = ?, arrived = ? WHERE topic = ? AND partition = ?"),
      standing: db.prepare("SELECT epoch, position, refold FROM standing WHERE stage = ? AND topic = ? AND partition = ?"),
      epoch: db.prepare("INSERT INTO standing VALUES (?, ?, ?, 1, ?, ?) ON CONFLICT DO UPDATE SET epoch = epoch + 1"),
      position: db.prepare("UPDATE standing SET position = ?, refold = ? WHERE stage = ? AND topic = ? AND partition = ?"),
      needed: db.prepare("SELECT min(refold) AS lowest FROM standing WHERE topic = ? AND partition = ?"),
      old: db.prepare(
        "SELECT offset FROM record WHERE topic = ? AND partition = ? AND offset >= ? AND offset < ? AND arrived < ? ORDER BY offset DESC LIMIT 1",
      ),
      drop: db.prepare("DELETE FROM record WHERE topic = ? AND partition = ? AND offset >= ? AND offset < ?"),
      first: db.prepare("UPDATE partition SET first = ? WHERE topic = ? AND partition = ?"),
    };
  }

  opened(): Opened {
    const partitions = [...this.partitions].map(([name, { first, next }]) => {
      const at = name.lastIndexOf("/");
      return { topic: name.slice(0, at), partition: Number(name.slice(at + 1)), first, next };
    });
    return { opened: true, partitions };
  }

  /** All orders in one transaction. Never throws. */
  run({ id, orders }: Request): Reply {
    this.touched.clear();
    try {
      this.db.exec("BEGIN IMMEDIATE");
      const done = orders.map((order) => this.one(order));
      this.finish();
      return { id, outcome: "done", done };
    } catch (error) {
      return { id, ...this.failed(error as Error & { errcode?: number }) };
    }
  }

  /** The disk is reached here; until then nothing is in the log. */
  private finish(): void {
    for (const [name, { next, arrivedMs }] of this.touched) {
      const at = name.lastIndexOf("/");
      this.statements.next.run(next, arrivedMs, name.slice(0, at), Number(name.slice(at + 1)));
    }
    this.isCommitting = true;
    this.db.exec("COMMIT");
    this.isCommitting = false;
    for (const [name, partition] of this.touched) this.partitions.set(name, partition);
  }

  private isCommitting = false;

  private failed(error: Error & { errcode?: number }): { outcome: "no-room" | "failed" | "unknown"; why: string } {
    const code = (error.errcode ?? 0) & CODE_MASK;
    const wasCommitting = this.isCommitting;
    this.isCommitting = false;
    if (this.db.isTransaction) this.db.exec("ROLLBACK");
    if (code === SQLITE_FULL) return { outcome: "no-room", why: error.message };
    // An error of the disk in the middle of a commit: what is on it shows when it is opened again.
    if (code === SQLITE_IOERR && wasCommitting) return { outcome: "unknown", why: error.message };
    return { outcome: "failed", why: error.message };
  }

  private one(order: Order): Done {
    switch (order.kind) {
      case "append":
        return this.write(order.records);
      case "claim":
        return this.claim(order.source);
      case "commit":
        return this.commit(order);
      case "trim":
        return { kind: "trimmed", trimmed: this.trim(order.nowMs) };
    }
  }

  private write(records: readonly Placed[]): Done {
    const offsets: number[] = [];
    const arrivedMs: number[] = [];
    const nowMs = this.now();
    for (const { topic, partition, key, value, headers } of records) {
      const place = this.touch(`${topic}/${partition}`);
      place.arrivedMs = Math.max(nowMs, place.arrivedMs);
      this.statements.insert.run(topic, partition, place.next, key, value, JSON.stringify(headers), place.arrivedMs);
      offsets.push(place.next++);
      arrivedMs.push(place.arrivedMs);
    }
    return { kind: "written", offsets, arrivedMs };
  }

  private touch(name: string): Partition {
    let place = this.touched.get(name);
    if (place === undefined) {
      place = { ...this.partitions.get(name)! };
      this.touched.set(name, place);
    }
    return place;
  }

  private claim({ stage, topic, partition }: Extract<Order, { kind: "claim" }>["source"]): Done {
    const { first } = this.partitions.get(`${topic}/${partition}`)!;
    this.statements.epoch.run(stage, topic, partition, first, first);
    const { epoch, position, refold } = this.statements.standing.get(stage, topic, partition) as Record<string, number>;
    return { kind: "claimed", epoch: epoch!, position: position!, refoldFrom: refold! };
  }

  private commit({ source, epoch, position, refoldFrom, records }: Extract<Order, { kind: "commit" }>): Done {
    const { stage, topic, partition } = source;
    const standing = this.statements.standing.get(stage, topic, partition) as Record<string, number> | undefined;
    if (standing?.["epoch"] !== epoch) return { kind: "fenced" };
    if (position < standing["position"]!) return { kind: "behind", position: standing["position"]! };
    this.statements.position.run(position, refoldFrom, stage, topic, partition);
    return this.write(records);
  }

  /** Takes out what is older than its topic keeps, but nothing that a stage still needs to fold again. */
  private trim(nowMs: number): Trimmed[] {
    const trimmed: Trimmed[] = [];
    let left = TRIM_RECORDS;
    for (const [name, { first, next }] of this.partitions) {
      const at = name.lastIndexOf("/");
      const [topic, partition] = [name.slice(0, at), Number(name.slice(at + 1))];
      const keepMs = this.retentionMs.get(topic);
      if (keepMs === undefined || left <= 0) continue;
      const { lowest } = this.statements.needed.get(topic, partition) as { lowest: number | null };
      const below = Math.min(lowest ?? next, next, first + left);
      const old = this.statements.old.get(topic, partition, first, below, nowMs - keepMs) as { offset: number } | undefined;
      if (old === undefined) continue;
      const from = old.offset + 1;
      this.statements.drop.run(topic, partition, first, from);
      this.statements.first.run(from, topic, partition);
      this.touch(name).first = from;
      left -= from - first;
      trimmed.push({ topic, partition, first: from });
    }
    return trimmed;
  }
}
