import { FollowFold } from "../flow/follow-fold.ts";
import type { Followed } from "../flow/followed.ts";
import type { FollowSink } from "../flow/sink.ts";
import { decodeFollowed } from "../flow/wire.ts";
import type { LogRecord } from "../log/log.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { Desk } from "./desk.ts";
import { type Wanted, wantedOf } from "./past/reach.ts";
import { readStretches } from "./past/read-stretch.ts";
import { Refused } from "./refused.ts";
import { compared, note, type Told } from "./told.ts";
import { Turn } from "./turn.ts";
import type { WhatIf } from "./views/what-if-shape.ts";

const HOUR_MS = 3_600_000;
/** Passes before the window that a journey may have come from: without them its bearings would have no history. */
const LEAD_IN_MS = 6 * HOUR_MS;
/** A pass may come so long after its event time, and still counts in the window. */
const LATENESS_MS = 2 * HOUR_MS;
/** Records read of a partition; time that one may take. */
const MOST_RECORDS = 200_000;
const MOST_MS = 110_000;

/** One rule set on its way through the window: the engine's own fold, and what it told. */
interface Trial {
  fold: FollowFold;
  found: Map<string, Told>;
}

/** Tries another rule set on what the log holds of a window: the same fold, twice, and what differs. One at a time. */
export class WhatIfs {
  private readonly desk: Desk;
  private readonly books: ReadonlyMap<string, RuleBook>;
  private readonly mostMs: number;
  private isRunning = false;

  constructor(desk: Desk, books: ReadonlyMap<string, RuleBook>, mostMs = MOST_MS) {
    this.desk = desk;
    this.books = books;
    this.mostMs = mostMs;
  }

  names(): string[] {
    return [...this.books.keys()];
  }

  /** @throws Refused for rules it does not know, for a window that the log does not reach or that takes too long, or while another one runs */
  async run(rules: string, fromMs: number, toMs: number): Promise<WhatIf> {
    const book = this.books.get(rules);
    if (book === undefined)
      throw new Refused(404, "DESK-022 unknown", `There are no rules called ${rules}. There are: ${this.names().join(", ") || "none"}.`);
    if (this.isRunning) throw new Refused(429, "DESK-033 busy", "Another what-if is running. Try again in a moment.");
    this.isRunning = true;
    try {
      await this.desk.past.checkHeld(fromMs);
      const [asIs, other] = [this.trial(this.desk.book, fromMs), this.trial(book, fromMs)];
      const passes = await this.through([asIs, other], fromMs, toMs);
      const about = { rules: book.sets.map((set) => set.id), against: this.desk.book.sets.map((set) => set.id), fromMs, toMs, passes };
      return compared([...asIs.found.values()], [...other.found.values()], about);
    } finally {
      this.isRunning = false;
    }
  }

  private trial(book: RuleBook, fromMs: number): Trial {
    const found = new Map<string, Told>();
    const sink: FollowSink = {
      condition: () => {},
      calibration: () => {},
      keep: () => {},
      settled: () => {},
      warning: (warning) => note(found, warning, fromMs),
    };
    return { fold: new FollowFold(this.desk.state.lines, book, sink), found };
  }

  /** Reads the window once, through both. Answers with the passes in it. */
  private async through(trials: readonly Trial[], fromMs: number, toMs: number): Promise<number> {
    const endsAt = performance.now() + this.mostMs;
    const turn = new Turn();
    const seen = new Set<string>();
    const inWindow = new Set<string>();
    const wanted = await this.wanted(fromMs, toMs);
    const take = async (raw: LogRecord): Promise<undefined> => {
      if (performance.now() > endsAt)
        throw new Refused(503, "DESK-034 too-long", `These hours take longer than ${this.mostMs / 1000} s. Choose fewer.`);
      const corridor = raw.key ?? "";
      if (!trials[0]!.fold.has(corridor)) return;
      const { followed } = decodeFollowed(raw, this.desk.byArrival);
      if (followed === undefined || isOfRules(followed)) return;
      const timeMs = timeOf(followed);
      if (timeMs < fromMs - LEAD_IN_MS || timeMs > toMs) return;
      if (followed.type === "pass") {
        const id = `${corridor} ${followed.pass.id}`;
        if (seen.has(id)) return;
        seen.add(id);
        if (timeMs >= fromMs) inWindow.add(followed.pass.id);
      }
      for (const { fold } of trials) {
        fold.step(corridor, followed);
        await turn.over();
      }
    };
    const stretches = wanted.map(({ stretch }) => stretch);
    await readStretches(this.desk.log, stretches, turn, take);
    return inWindow.size;
  }

  private async wanted(fromMs: number, toMs: number): Promise<Wanted[]> {
    const hours = (toMs - fromMs + LEAD_IN_MS + LATENESS_MS) / HOUR_MS;
    const { log, byArrival } = this.desk;
    return wantedOf(log, [{ topic: "passes", hours, most: MOST_RECORDS }], byArrival ? toMs + LATENESS_MS : null);
  }
}

/** What the rules of then left behind: restated warnings and rules announced would speak for them in the other trial. */
function isOfRules(followed: Followed): boolean {
  return followed.type === "rules" || followed.type === "kept-warning" || followed.type === "kept-watch" || followed.type === "kept-mark";
}

function timeOf(followed: Followed): number {
  if (followed.type === "pass") return followed.pass.endedMs;
  return Date.parse(followed.type === "kept-warning" ? followed.warning.time : followed.time);
}
