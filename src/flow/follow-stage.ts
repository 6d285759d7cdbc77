import type { Rejected } from "../feed/record.ts";
import { type Refusal, reject } from "../feed/reject.ts";
import type { Railroad } from "../line/railroad.ts";
import type { LogRecord } from "../log/log.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { TimeOfFeed } from "./assemble-stage.ts";
import { FollowFold } from "./follow-fold.ts";
import type { Followed, Kept } from "./followed.ts";
import type { Outcome } from "./sink.ts";
import type { Out, StageFold } from "./stage-fold.ts";
import { decodeFollowed, outbound, textOf } from "./wire.ts";

/**
 * A re-fold of `passes` begins at a restatement at least this old, by the corridor's time. A journey takes hours and is
 * forgotten ten hours after its last pass, so every journey that still runs is folded whole. Assumption.
 */
export const FOLLOW_WINDOW_MS = 24 * 3_600_000;

/** A restatement that was read back whole. */
interface Restated {
  from: number;
  atMs: number;
}

interface CorridorBook {
  /** Where the restatement being read began. */
  beginning: number;
  /** The first is the newest that lies before the window, once there is one. */
  restated: Restated[];
}

const NOWHERE: Out = { put: () => {} };

/** The fold of a task of `follow`: a partition of `passes` in; warnings, conditions, calibrations out. */
export class FollowStage implements StageFold {
  lastEventMs = Number.NaN;
  lastTickMs = Number.NaN;
  private readonly fold: FollowFold;
  private readonly books = new Map<string, CorridorBook>();
  private began: number | null = null;
  private readonly byArrival: boolean;
  private out: Out = NOWHERE;

  constructor(railroad: Railroad, rules: RuleBook, partition: number, time: TimeOfFeed = "arrival") {
    this.byArrival = time === "arrival";
    const keep = (kept: Kept, corridor: string) => {
      const id = kept.type === "calibration" ? kept.id : `${kept.type}/${corridor}`;
      // Into the very partition that this corridor is read from, whatever the key says.
      this.out.put({ ...outbound("passes", corridor, kept.type, id, timeOfKept(kept), kept), partition }, false);
    };
    this.fold = new FollowFold(railroad, rules, {
      warning: (warning) =>
        this.out.put(outbound("warnings", warning.id, "warning", `${warning.id}#${warning.version}`, warning.time, warning), true),
      condition: (condition) =>
        this.out.put(
          outbound("site-conditions", condition.site, "site-condition", `${condition.id}#${condition.version}`, condition.time, condition),
          true,
        ),
      calibration: (calibration) =>
        this.out.put(outbound("calibrations", calibration.site, "calibration", calibration.id, calibration.time, calibration), false),
      keep,
      settled: () => {},
    });
  }

  step(record: LogRecord, out: Out): Outcome {
    this.out = out;
    this.began ??= record.offset;
    const corridor = record.key ?? "";
    const { followed, why } = this.fold.has(corridor) ? decodeFollowed(record, this.byArrival) : { why: unknownCorridor(corridor) };
    if (followed === undefined) {
      this.reject(why, record);
      return "rejected";
    }
    this.look(followed, corridor, record.offset);
    const outcome = this.fold.step(corridor, followed);
    // A tick of one source is not yet time: the oldest of all is.
    if (followed.type === "tick") this.lastTickMs = this.fold.tickedMs;
    return outcome;
  }

  refoldFrom(position: number): number {
    const began = this.began ?? position;
    let from = position;
    for (const { restated } of this.books.values()) from = Math.min(from, isBeforeWindow(restated) ? restated[0]!.from : began);
    return this.books.size === 0 ? began : from;
  }

  private look(followed: Followed, corridor: string, offset: number): void {
    if (followed.type === "pass") this.lastEventMs = followed.pass.endedMs;
    let book = this.books.get(corridor);
    if (book === undefined) {
      book = { beginning: -1, restated: [] };
      this.books.set(corridor, book);
    }
    if (followed.type !== "kept-mark") return;
    if (followed.phase === "begun") {
      book.beginning = offset;
      return;
    }
    if (book.beginning < 0) return;
    const { restated } = book;
    restated.push({ from: book.beginning, atMs: Date.parse(followed.time) });
    book.beginning = -1;
    while (restated.length > 1 && restated[1]!.atMs <= restated.at(-1)!.atMs - FOLLOW_WINDOW_MS) restated.shift();
  }

  private reject(why: Refusal, record: LogRecord): void {
    const rejected: Rejected = reject(why, textOf(record.value), record);
    const time = new Date(Number.isNaN(this.lastEventMs) ? 0 : this.lastEventMs).toISOString();
    this.out.put(outbound("rejected", rejected.topic, "rejected", rejected.id, time, rejected), false);
  }
}

function isBeforeWindow(restated: readonly Restated[]): boolean {
  return restated.length > 1 && restated[0]!.atMs <= restated.at(-1)!.atMs - FOLLOW_WINDOW_MS;
}

function timeOfKept(kept: Kept): string {
  if (kept.type === "kept-warning") return kept.warning.time;
  return kept.type === "kept-condition" ? kept.condition.time : kept.time;
}

/** A line file that changed, or somebody else's records. */
function unknownCorridor(corridor: string): Refusal {
  return {
    reason: "LINE-003 unknown-corridor",
    path: "",
    expected: "a corridor of the line file as the key",
    advice: `Add corridor ${corridor} to the line file again, or leave it: nothing else is held up.`,
  };
}
