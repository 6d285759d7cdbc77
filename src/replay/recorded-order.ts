import type { FeedLine } from "../feed/feed-line.ts";
import { type Refusal, reject } from "../feed/reject.ts";
import type { LookTaken } from "../flow/bearings.ts";
import { FollowFold } from "../flow/follow-fold.ts";
import type { Followed } from "../flow/followed.ts";
import { takeLine } from "../flow/line-announced.ts";
import { type Share, WHOLE } from "../flow/share.ts";
import type { Outcome, Sink } from "../flow/sink.ts";
import { unknownSite } from "../flow/unknown-site.ts";
import { decodeFollowed } from "../flow/wire.ts";
import { type LineBook, lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";

/**
 * The stage that follows, over the passes of a recorded feed in the order in which they were followed live. What the
 * corridors wrote into their own input is among them, so nothing is kept here.
 */
export class RecordedOrder {
  readonly #lines: LineBook;
  readonly #follow: FollowFold;
  readonly #sink: Sink;
  readonly #share: Share;
  /** Axles of passes, each counted for the corridor that owns its site. */
  axles = 0;
  /** Latest end of a pass. */
  eventMs = Number.NEGATIVE_INFINITY;

  constructor(railroad: Railroad, rules: RuleBook, sink: Sink, observe: ((taken: LookTaken) => void) | null, share: Share = WHOLE) {
    this.#lines = lineBookOf(railroad);
    this.#sink = sink;
    this.#share = share;
    this.#follow = new FollowFold(railroad, rules, { ...sink, keep: () => {} }, observe, share.folds);
  }

  /** Folds one line of the topic `passes`. A rejected one has gone to the sink with its reason; null: it is another share's. */
  step(line: FeedLine): Outcome | null {
    const { recorded, key } = line;
    const isKnown = this.#lines.corridors.some(({ id }) => id === key);
    if (isKnown ? !this.#share.folds(key) : !this.#share.tells(undefined)) return null;
    const place = { topic: "passes", partition: recorded?.partition ?? 0, offset: recorded?.offset ?? line.line };
    const opened = { ...place, key, value: bytesOf(line.value), headers: {}, arrivedMs: recorded?.arrivedMs ?? Number.NaN };
    // Recorded where days were fed in: then nobody could say what time it was, either.
    if (recorded !== undefined && recorded.arrivedMs === undefined) this.#follow.untimed();
    const { followed, why } = isKnown ? decodeFollowed(opened) : { why: unknownCorridor(key) };
    if (followed === undefined) {
      this.#sink.rejected(reject(why, line.value, place));
      return "rejected";
    }
    if (followed.type === "line") takeLine(followed, this.#lines);
    if (followed.type === "pass") {
      if (!this.#follow.knows(key, followed.pass.site)) {
        this.#sink.rejected(reject(unknownSite(followed.pass), line.value, place));
        return "rejected";
      }
      this.#tell(followed, key);
    }
    return this.#follow.step(key, followed);
  }

  finish(): void {
    this.#follow.finish();
  }

  get looks(): number {
    return this.#follow.looks;
  }

  /** A pass near a corridor's end is followed by two; it is told once. */
  #tell({ pass }: Extract<Followed, { type: "pass" }>, corridor: string): void {
    this.#lines.turn(pass.endedMs);
    if (this.#lines.corridorsOf(pass.site)[0] !== corridor) return;
    this.axles += pass.axles;
    this.eventMs = Math.max(this.eventMs, pass.endedMs);
    this.#sink.pass(pass);
  }
}

function bytesOf(value: unknown): Uint8Array {
  return Buffer.from(typeof value === "string" ? value : JSON.stringify(value));
}

function unknownCorridor(corridor: string): Refusal {
  return {
    reason: "LINE-003 unknown-corridor",
    path: "",
    expected: "a corridor of the line file as the key",
    advice: `Replay with the line file of that day, which had the corridor ${corridor}.`,
  };
}
