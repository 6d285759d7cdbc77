import type { Rejected } from "../feed/record.ts";
import { type Refusal, reject } from "../feed/reject.ts";
import type { Railroad } from "../line/railroad.ts";
import type { LogRecord, Position } from "../log/log.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { TimeOfFeed } from "./assemble-stage.ts";
import { RESTATE_EVERY_MS } from "./corridor.ts";
import { FollowFold } from "./follow-fold.ts";
import type { Followed, Kept } from "./followed.ts";
import type { PassesAtHand } from "./passes-at-hand.ts";
import type { Outcome } from "./sink.ts";
import type { Out, StageFold } from "./stage-fold.ts";
import { unknownSite } from "./unknown-site.ts";
import { WARM_UP_MS, WarmUp } from "./warm-up.ts";
import { decodeFollowed, followedPass, outbound, textOf } from "./wire.ts";

/**
 * A re-fold of `passes` begins at a restatement at least this old, by the corridor's time: it warms up, and then comes to
 * another restatement before it reaches its position.
 */
export const FOLLOW_WINDOW_MS = WARM_UP_MS + RESTATE_EVERY_MS;

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
  /** null where everything is folded from the beginning of the log. */
  warmUp: WarmUp | null;
}

const NOWHERE: Out = { put: () => {} };
const FROM_THE_BEGINNING: Position = { position: 0, refoldFrom: 0 };

/** The fold of a task of `follow`: a partition of `passes` in; warnings, conditions, calibrations out. */
export class FollowStage implements StageFold {
  lastEventMs = Number.NaN;
  lastTickMs = Number.NaN;
  /** One order there is already. */
  readonly pacedMs = Number.NaN;
  private readonly fold: FollowFold;
  private readonly books = new Map<string, CorridorBook>();
  private began: number | null = null;
  private readonly byArrival: boolean;
  private readonly start: Position;
  private readonly atHand: PassesAtHand | null;
  private out: Out = NOWHERE;
  private offset = 0;

  /** `atHand`: passes assembled in the same process, which need not be parsed. */
  constructor(
    railroad: Railroad,
    rules: RuleBook,
    partition: number,
    time: TimeOfFeed = "arrival",
    start: Position = FROM_THE_BEGINNING,
    atHand: PassesAtHand | null = null,
  ) {
    this.atHand = atHand;
    this.byArrival = time === "arrival";
    this.start = start;
    const keep = (kept: Kept, corridor: string) => {
      if (kept.type === "kept-mark" && kept.phase === "begun") this.bookOf(corridor).warmUp?.marked(Date.parse(kept.time), this.offset);
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
      functionalTest: (record) =>
        this.out.put(outbound("functional-tests", record.site, record.type, record.id, record.time, record), true),
      equipment: (seen) =>
        this.out.put(outbound("equipment-seen", seen.site, seen.type, `${seen.id}#${seen.version}`, seen.time, seen), true),
      calibration: (calibration) =>
        this.out.put(outbound("calibrations", calibration.site, "calibration", calibration.id, calibration.time, calibration), false),
      keep,
      settled: () => {},
    });
    if (!this.byArrival) this.fold.untimed();
  }

  step(record: LogRecord, out: Out): Outcome {
    this.out = out;
    this.began ??= record.offset;
    const corridor = record.key ?? "";
    const { followed, why } = this.fold.has(corridor) ? this.known(corridor, this.decode(record)) : { why: unknownCorridor(corridor) };
    if (followed === undefined) {
      this.reject(why, record);
      return "rejected";
    }
    this.offset = record.offset;
    this.look(followed, corridor, record.offset);
    const outcome = this.foldOrHold(corridor, followed);
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

  /** A pass of a site that no line file has any more, as after a start with another one. */
  private known(corridor: string, decoded: ReturnType<typeof decodeFollowed>): ReturnType<typeof decodeFollowed> {
    if (decoded.followed?.type !== "pass" || this.fold.knows(corridor, decoded.followed.pass.site)) return decoded;
    return { why: unknownSite(decoded.followed.pass) };
  }

  private decode(record: LogRecord): ReturnType<typeof decodeFollowed> {
    const pass = this.atHand?.take(record.value) ?? null;
    return pass === null ? decodeFollowed(record, this.byArrival) : followedPass(pass, record, this.byArrival);
  }

  private foldOrHold(corridor: string, followed: Followed): Outcome {
    const { warmUp } = this.bookOf(corridor);
    if (warmUp === null || !warmUp.isAwaiting) return this.fold.step(corridor, followed);
    const now = warmUp.hold(followed, this.offset);
    if (now === null) return "used";
    if (now.memory !== null) this.fold.restore(corridor, now.memory);
    // All of it was said before.
    const { out } = this;
    this.out = NOWHERE;
    for (const one of now.held) this.fold.step(corridor, one);
    this.out = out;
    return now.isTaken ? "used" : this.fold.step(corridor, followed);
  }

  private bookOf(corridor: string): CorridorBook {
    let book = this.books.get(corridor);
    if (book === undefined) {
      const { position, refoldFrom } = this.start;
      book = { beginning: -1, restated: [], warmUp: refoldFrom > 0 && refoldFrom < position ? new WarmUp(position) : null };
      this.books.set(corridor, book);
    }
    return book;
  }

  private look(followed: Followed, corridor: string, offset: number): void {
    if (followed.type === "pass") this.lastEventMs = followed.pass.endedMs;
    const book = this.bookOf(corridor);
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
  return kept.type === "kept-warning" ? kept.warning.time : kept.time;
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
