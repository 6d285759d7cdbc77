import type { Railroad } from "../line/railroad.ts";
import type { Watch } from "../site/watch.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { LookTaken } from "./bearings.ts";
import { Corridor } from "./corridor.ts";
import type { Followed, Memory } from "./followed.ts";
import type { FollowSink, Outcome } from "./sink.ts";

/**
 * The stage that follows: assembled passes, and what else concerns them, folded corridor by corridor. A fold over the order
 * in which it is given its records: no clock, no input or output but `sink`.
 */
export class FollowFold {
  private readonly corridors = new Map<string, Corridor>();

  /** `observe` sees every look at a bearing. `folds`: the corridors that are folded here. */
  constructor(
    railroad: Railroad,
    book: RuleBook,
    sink: FollowSink,
    observe: ((taken: LookTaken) => void) | null = null,
    folds: (corridor: string) => boolean = () => true,
  ) {
    for (const { id } of railroad.corridors) if (folds(id)) this.corridors.set(id, new Corridor(id, railroad, book, sink, observe));
  }

  has(corridor: string): boolean {
    return this.corridors.has(corridor);
  }

  /** Whether the corridor knows a site, now or from another state of the railroad. */
  knows(corridor: string, site: string): boolean {
    return this.corridors.get(corridor)?.knows(site) === true;
  }

  /** Nobody can say what time it is: see `Watch.isTimed`. */
  untimed(): void {
    for (const corridor of this.corridors.values()) corridor.untimed();
  }

  /** Folds one record for one corridor of the line file. */
  step(id: string, record: Followed): Outcome {
    const corridor = this.corridors.get(id);
    if (corridor === undefined) throw new Error(`corridor ${id} is not in the line file: ask \`has\` first`);
    switch (record.type) {
      case "pass":
        return corridor.pass(record.pass);
      case "consist":
        return corridor.consist(record);
      case "desk-action":
        corridor.action(record);
        return "used";
      case "tick":
        corridor.tick(record);
        return "used";
      case "refused":
        corridor.refused(record);
        return "used";
      case "calibration":
      case "kept-warning":
      case "rules":
      case "line":
        corridor.recall(record);
        return "used";
      case "kept-watch":
      case "kept-mark":
        // For whoever folds again from there: see `WarmUp`.
        return "used";
      default:
        corridor.report(record);
        return "used";
    }
  }

  /** A corridor goes on with what it knew at a restatement. */
  restore(id: string, memory: Memory): void {
    this.corridors.get(id)?.restore(memory);
  }

  /** The end of a recorded feed: nothing more will come, so everything is settled. */
  finish(): void {
    for (const corridor of this.corridors.values()) corridor.finish();
  }

  /** How far ticks have come for every corridor that gets any; NaN while that is not known. */
  get tickedMs(): number {
    let leastMs = Number.POSITIVE_INFINITY;
    for (const { tickedMs } of this.corridors.values()) if (tickedMs !== null) leastMs = Math.min(leastMs, tickedMs);
    return Number.isFinite(leastMs) ? leastMs : Number.NaN;
  }

  /** The watches over the sites, corridor by corridor. For showing. */
  get watches(): Watch[] {
    return [...this.corridors.values()].map((corridor) => corridor.sites);
  }

  /** Looks taken at single bearings, after the screen of all. */
  get looks(): number {
    let looks = 0;
    for (const corridor of this.corridors.values()) looks += corridor.looks;
    return looks;
  }
}
