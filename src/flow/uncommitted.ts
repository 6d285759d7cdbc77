import type { NewRecord } from "../log/log.ts";
import type { SiteMetrics } from "../telemetry/metrics.ts";
import type { Out, Seen } from "./stage-fold.ts";

/** What goes into one commit, at most, before folding waits for it. Kafka's limits of a request are far above. */
export const COMMIT_RECORDS = 2_000;
export const COMMIT_BYTES = 2 * 1024 * 1024;

/** What a task has folded and said, and has not committed. While it recovers, what it says is not heard. */
export class Uncommitted implements Out {
  /** Something of it is waited for. */
  matters = false;
  /** The offset to be folded next. */
  next = 0;
  private outputs: NewRecord[] = [];
  private bytes = 0;
  private silentBelow = 0;
  private folding = 0;
  private readonly metrics: { site(site: string): SiteMetrics } | null;

  /** `metrics`: where what sites do is counted. */
  constructor(metrics: { site(site: string): SiteMetrics } | null = null) {
    this.metrics = metrics;
  }

  /** Begins at an offset; below `position` everything was said before. */
  begin(from: number, position: number): void {
    this.next = from;
    this.silentBelow = position;
    this.cut();
  }

  /** What is put from now on comes from the record at `offset`. */
  fold(offset: number): void {
    this.folding = offset;
    this.next = offset + 1;
  }

  put(record: NewRecord, matters: boolean): void {
    if (this.folding < this.silentBelow) return;
    this.outputs.push(record);
    this.bytes += record.value.length;
    if (matters) this.matters = true;
  }

  saw(site: string, what: Seen, atMs: number, axles: number): void {
    if (this.metrics === null || this.folding < this.silentBelow) return;
    const counted = this.metrics.site(site);
    if (what === "heartbeat") {
      counted.lastHeartbeatMs.raise(atMs);
      counted.heartbeats.add();
    } else if (what === "pass") {
      counted.lastPassMs.raise(atMs);
      counted.passes.add();
      counted.axles.add(axles);
    } else {
      counted.rejected.add();
    }
  }

  get isEmpty(): boolean {
    return this.outputs.length === 0;
  }

  get isFull(): boolean {
    return this.outputs.length >= COMMIT_RECORDS || this.bytes >= COMMIT_BYTES;
  }

  /** Hands out what there is, and begins anew. */
  cut(): NewRecord[] {
    const { outputs } = this;
    this.outputs = [];
    this.matters = false;
    this.bytes = 0;
    return outputs;
  }
}
