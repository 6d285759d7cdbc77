import { sourceKey } from "../log/group.ts";
import { type Batch, type Claim, FencedError, type Log, type LogRecord, type NewRecord, NoRoomError, type Source } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { SiteMetrics, StageMetrics } from "../telemetry/metrics.ts";
import { type Clock, pauseOf } from "./clock.ts";
import type { Pace } from "./pace.ts";
import type { MakeFold, StageFold } from "./stage-fold.ts";
import { TaskPlace } from "./task-place.ts";
import { TaskReport } from "./task-report.ts";
import { Uncommitted } from "./uncommitted.ts";

/**
 * The life of a task, one input partition of one stage:
 *
 *            ┌────────────── any error ◄──────────┐
 *            ▼                                    │
 *   ──► broken ──a while──► fenced ──► recovering ──► running
 *  claim     (whoever was before)  (re-fold,        │
 *                                   nothing said)   └──► dropped: taken over, or given back
 */
export type TaskState = "fenced" | "recovering" | "running" | "broken" | "dropped";

/** Folding without a break, at most: then the log gets a sign of life and others their turn. */
const CHUNK_MS = 25;
/** Records between two looks at the clock. */
const LOOK_EVERY = 16;
/** Something to say waits no longer than this. */
export const COMMIT_WITHIN_MS = 50;
/** A position without anything to say is worth less: it only shortens a recovery. */
export const COMMIT_IDLE_MS = 1_000;
/** First and longest wait before a broken task tries again. */
const FIRST_WAIT_MS = 20;
const LONGEST_WAIT_MS = 5_000;
/** A task that was fenced although the partition is still its own takes it again after this: longer than a session of a group. */
export const FENCED_PATIENCE_MS = 10_000;
/** A fold that throws so often at the same place will always throw. */
const MOST_FAULTS = 5;

export interface TaskParts {
  source: Source;
  log: Log;
  make: MakeFold;
  clock: Clock;
  metrics: StageMetrics;
  /** Where what sites do is counted; absent in tests that do not look. */
  sites?: { site(site: string): SiteMetrics };
  logger: Logger;
  /** Shared by the tasks of a stage in this process. */
  pace: Pace;
  pause(): void;
  resume(from: number): void;
  /** The fold itself is at fault and recovery does not help: the process must end. */
  failed(error: Error): void;
}

/** Folds one partition, exactly once: outputs and position go out in one commit, and whatever fails is folded again from the log. */
export class Task {
  readonly source: Source;
  private readonly parts: TaskParts;
  private readonly report: TaskReport;
  private readonly uncommitted: Uncommitted;
  private stateNow: TaskState = "broken";
  private fold: StageFold | null = null;
  private claim: Claim | null = null;
  /** Rises with every claim and every end, so that what is still under way knows that it is of the past. */
  private life = 0;
  /** Everything below is committed. */
  private committed = 0;
  /** Everything below was handed over, as far as the log says. */
  private handed = 0;
  private committing: Promise<void> | null = null;
  private cancelTimer: (() => void) | null = null;
  private waits = 0;
  private faults = 0;
  private faultAt = -1;
  private recoveringSinceMs = 0;
  private progressAtMs: number;
  private end = 0;
  private hasNoRoom = false;
  private isHeld = false;
  private readonly place: TaskPlace;
  private isIdleTimer = false;
  /** There are more records at hand: what comes of them shares a commit with what was said before. */
  private hasMore = false;

  constructor(parts: TaskParts) {
    this.parts = parts;
    this.report = new TaskReport(parts);
    this.source = parts.source;
    this.place = new TaskPlace(sourceKey(parts.source), parts.pace, parts.clock);
    this.uncommitted = new Uncommitted(parts.sites);
    this.progressAtMs = parts.clock.now();
  }

  get state(): TaskState {
    return this.stateNow;
  }

  /** How long there has been something to do and nothing was done; 0 while all is well. A log without room is no stall. */
  stalledMs(nowMs: number): number {
    const hasWork = this.stateNow === "broken" || this.uncommitted.next < this.end;
    return hasWork && !this.hasNoRoom && !this.isHeld ? nowMs - this.progressAtMs : 0;
  }

  /** Takes the partition: whoever had it is fenced. Answers with the offset to read from. Tries until `signal` aborts. */
  async take(signal: AbortSignal): Promise<number> {
    const life = ++this.life;
    while (!signal.aborted) {
      try {
        const claim = await this.parts.log.claim(this.source);
        if (life !== this.life || signal.aborted) break;
        return this.begin(claim);
      } catch (error) {
        if (life !== this.life) break;
        this.hasNoRoom = error instanceof NoRoomError;
        this.tell("broken", error as Error);
        await pauseOf(this.parts.clock, this.nextWaitMs(), signal);
        if (life !== this.life) break;
      }
    }
    return 0;
  }

  /** Records in order. Answers when they are folded; what they led to may still be on its way into the log. */
  async records(batch: Batch, signal: AbortSignal): Promise<void> {
    const { life } = this;
    const { clock } = this.parts;
    if (this.fold === null || this.isHeld) return;
    this.end = batch.end;
    this.place.reads();
    if (batch.from !== undefined && batch.from > this.handed) return this.broke(this.leftOut(batch.from), signal);
    for (let at = 0; at < batch.records.length; ) {
      try {
        at = this.foldSome(batch.records, at, batch.end);
      } catch (error) {
        this.fault(error as Error, signal);
        return;
      }
      this.hasMore = at < batch.records.length;
      if (this.isToBeCommitted) this.commitSoon(signal);
      else this.commitLater(signal);
      await batch.heartbeat();
      if (this.hasMore) await clock.breathe();
      if (life !== this.life) return;
      if (batch.stale) return this.drop();
      // Back pressure: no more is folded than one commit ahead of the log.
      while (this.uncommitted.isFull && this.committing !== null) await this.committing;
      if (life !== this.life) return;
      if (this.isAhead()) return this.hold();
    }
    this.handed = Math.max(this.handed, batch.through ?? this.uncommitted.next);
    this.place.restSoon();
  }

  /** Nothing is folded over a gap: what is missing would be committed as if it had been folded. */
  private leftOut(from: number): Error {
    return new Error(`the log handed over what comes from ${from} on, and nothing from ${this.handed} to there`);
  }

  private isAhead(): boolean {
    const ms = this.fold?.pacedMs ?? Number.NaN;
    // Whoever recovers is let through: it says nothing meanwhile.
    if (Number.isNaN(ms) || this.stateNow !== "running") return false;
    return this.place.isAheadAt(ms);
  }

  /** Reads no further until the partitions behind have come near. */
  private hold(): void {
    const { life } = this;
    this.isHeld = true;
    this.handed = this.uncommitted.next;
    this.hasMore = false;
    this.parts.pause();
    this.place.wait((this.fold as StageFold).pacedMs, () => {
      if (life !== this.life) return;
      this.isHeld = false;
      this.progressAtMs = this.parts.clock.now();
      // There may be nothing more to read, and the others must not wait for that.
      this.place.restSoon();
      this.parts.resume(this.uncommitted.next);
    });
  }

  /** The partition goes to somebody else: what is folded is committed if it still can be, and the claim given back. */
  async giveBack(): Promise<void> {
    await this.committing;
    const { claim, life, uncommitted } = this;
    if (claim !== null && this.stateNow === "running" && uncommitted.next > this.committed) {
      await claim.commit(this.cut()).catch((error: unknown) => {
        if (life === this.life) this.report.lastCommitLost(error);
      });
    }
    this.drop();
    await claim?.release().catch(() => {});
  }

  /** Ends quietly. Whatever is under way is of the past. */
  drop(): void {
    this.end = 0;
    this.stop("dropped");
    this.parts.metrics.forget();
  }

  private begin(claim: Claim): number {
    const { position, refoldFrom } = claim.start;
    this.claim = claim;
    this.fold = this.parts.make(this.source, claim.start);
    this.committed = position;
    this.hasNoRoom = false;
    this.uncommitted.begin(refoldFrom, position);
    this.handed = refoldFrom;
    this.recoveringSinceMs = this.parts.clock.now();
    this.progressAtMs = this.recoveringSinceMs;
    this.tell("fenced");
    this.tell("recovering");
    if (refoldFrom >= position) this.recovered();
    return refoldFrom;
  }

  private recovered(): void {
    this.report.recovered(this.parts.clock.now() - this.recoveringSinceMs);
    this.tell("running");
  }

  /** What matters is committed at once, unless more is at hand: a transaction right behind another takes twice as long as one a little later. */
  private get isToBeCommitted(): boolean {
    const { matters, isFull } = this.uncommitted;
    return isFull || (matters && !this.hasMore);
  }

  /** Folds from `at` on until a chunk or a commit is full; answers with the next to fold. */
  private foldSome(records: readonly LogRecord[], at: number, end: number): number {
    const { uncommitted, fold } = this;
    const { metrics, clock } = this.parts;
    const beganMs = clock.now();
    const limitMs = this.stateNow === "running" ? this.place.limitMs : Number.POSITIVE_INFINITY;
    const began = at;
    let here = at;
    while (here < records.length) {
      const record = records[here]!;
      here++;
      // Read twice: the log was asked to begin again before this was answered.
      if (record.offset < uncommitted.next) continue;
      uncommitted.fold(record.offset);
      const outcome = (fold as StageFold).step(record, uncommitted);
      if (record.offset < this.committed) {
        metrics.refolded.add(1);
      } else {
        metrics.in.add(1);
        metrics[outcome].add(1);
      }
      if (uncommitted.isFull) break;
      if ((here - began) % LOOK_EVERY !== 0) continue;
      if (clock.now() - beganMs >= CHUNK_MS || (fold as StageFold).pacedMs > limitMs) break;
    }
    const nowMs = clock.now();
    this.progressAtMs = nowMs;
    if (this.stateNow === "recovering" && uncommitted.next >= this.committed) this.recovered();
    this.report.folded(fold, nowMs - beganMs, uncommitted.next, end);
    return here;
  }

  private commitLater(signal: AbortSignal): void {
    const isIdle = this.uncommitted.isEmpty;
    if (this.uncommitted.next <= this.committed || (this.cancelTimer !== null && (isIdle || !this.isIdleTimer))) return;
    // What is to be said does not wait as long as a mere position may.
    this.cancelTimer?.();
    this.isIdleTimer = isIdle;
    const waitMs = isIdle ? COMMIT_IDLE_MS : COMMIT_WITHIN_MS;
    const { life } = this;
    this.cancelTimer = this.parts.clock.after(waitMs, () => {
      this.cancelTimer = null;
      if (life === this.life) this.commitSoon(signal);
    });
  }

  private commitSoon(signal: AbortSignal): void {
    if (this.committing !== null) return;
    this.cancelTimer?.();
    this.cancelTimer = null;
    const { life } = this;
    const committing = this.commitAll(signal).finally(() => {
      if (this.committing === committing) this.committing = null;
      // What was folded meanwhile and does not matter at once gets its own while.
      if (life === this.life) this.commitLater(signal);
    });
    this.committing = committing;
  }

  /** Commits what there is, and again while something that matters came in between. */
  private async commitAll(signal: AbortSignal): Promise<void> {
    const { life, claim, uncommitted } = this;
    const { clock } = this.parts;
    if (claim === null) return;
    while (life === this.life && uncommitted.next > this.committed) {
      const commit = this.cut();
      const beganMs = clock.now();
      try {
        await claim.commit(commit);
      } catch (error) {
        if (life === this.life) this.broke(error as Error, signal);
        return;
      }
      if (life !== this.life) return;
      this.committed = commit.position;
      this.waits = 0;
      this.report.committed(commit.outputs.length, clock.now() - beganMs);
      if (!this.isToBeCommitted) return;
    }
  }

  /** Everything folded so far, as one commit. */
  private cut(): { position: number; refoldFrom: number; outputs: NewRecord[] } {
    const position = this.uncommitted.next;
    const refoldFrom = Math.min(position, (this.fold as StageFold).refoldFrom(position));
    return { position, refoldFrom, outputs: this.uncommitted.cut() };
  }

  /** The fold threw. At the same place again and again no recovery helps. */
  private fault(error: Error, signal: AbortSignal): void {
    const at = this.uncommitted.next - 1;
    this.faults = at === this.faultAt ? this.faults + 1 : 1;
    this.faultAt = at;
    if (this.faults < MOST_FAULTS) {
      this.broke(error, signal);
    } else {
      this.stop("broken", error);
      this.parts.failed(error);
    }
  }

  private broke(error: Error, signal: AbortSignal): void {
    const { clock, pause } = this.parts;
    const isFenced = error instanceof FencedError;
    this.report.failed(error);
    pause();
    this.stop(isFenced ? "dropped" : "broken", error);
    void this.again(signal, isFenced ? FENCED_PATIENCE_MS : this.nextWaitMs(), clock);
  }

  private async again(signal: AbortSignal, waitMs: number, clock: Clock): Promise<void> {
    const { life } = this;
    await pauseOf(clock, waitMs, signal);
    if (signal.aborted || life !== this.life) return;
    const from = await this.take(signal);
    if (this.claim !== null && !signal.aborted) this.parts.resume(from);
  }

  private nextWaitMs(): number {
    return Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** this.waits++);
  }

  private stop(state: TaskState, error?: Error): void {
    this.life++;
    this.cancelTimer?.();
    this.cancelTimer = null;
    this.isHeld = false;
    this.hasMore = false;
    this.place.leave();
    this.committing = null;
    this.hasNoRoom = error instanceof NoRoomError;
    this.claim = null;
    this.fold = null;
    this.uncommitted.begin(0, 0);
    this.tell(state, error);
  }

  private tell(state: TaskState, error?: Error): void {
    this.stateNow = state;
    this.report.turned(state, this.committed, this.uncommitted.next, error);
  }
}
