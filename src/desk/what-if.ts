import { FollowFold } from "../flow/follow-fold.ts";
import type { FollowSink } from "../flow/sink.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { Level, Warning } from "../warning/warning.ts";
import type { Desk } from "./desk.ts";
import { Refused } from "./refused.ts";
import type { WhatIf } from "./views/shapes.ts";

/** Passes before the window that a journey may have come from: without them its bearings would have no history. */
const LEAD_IN_MS = 6 * 3_600_000;
/** Passes folded before others get their turn. */
const SLICE = 5;
/** Bearings listed. */
const MOST_BEARINGS = 500;

const RANK: Record<Level, number> = { watch: 0, warn: 1, limit: 2 };

interface Reached {
  train: string | null;
  place: string;
  site: string;
  level: Level;
  timeMs: number;
}

/** Tries another rule set on the passes that the desk holds: the same fold, twice, and what differs. One at a time. */
export class WhatIfs {
  private readonly desk: Desk;
  private readonly books: ReadonlyMap<string, RuleBook>;
  private isRunning = false;

  constructor(desk: Desk, books: ReadonlyMap<string, RuleBook>) {
    this.desk = desk;
    this.books = books;
  }

  names(): string[] {
    return [...this.books.keys()];
  }

  /** @throws Refused for rules it does not know, or while another one runs */
  async run(rules: string, fromMs: number, toMs: number): Promise<WhatIf> {
    const book = this.books.get(rules);
    if (book === undefined)
      throw new Refused(404, "DESK-022 unknown", `There are no rules called ${rules}. There are: ${this.names().join(", ") || "none"}.`);
    if (this.isRunning) throw new Refused(429, "DESK-033 busy", "Another what-if is running. Try again in a moment.");
    this.isRunning = true;
    try {
      const asIs = await this.fold(this.desk.book, fromMs, toMs);
      const other = await this.fold(book, fromMs, toMs);
      return compared(asIs, other, {
        rules: book.sets.map((set) => set.id),
        against: this.desk.book.sets.map((set) => set.id),
        fromMs,
        toMs,
        passes: this.desk.history.passesBetween(fromMs, toMs).length,
      });
    } finally {
      this.isRunning = false;
    }
  }

  /** Highest level that each bearing reached in the window, by warning id. */
  private async fold(book: RuleBook, fromMs: number, toMs: number): Promise<Map<string, Reached>> {
    const { railroad, history } = this.desk;
    const found = new Map<string, Reached>();
    const sink: FollowSink = {
      condition: () => {},
      calibration: () => {},
      keep: () => {},
      settled: () => {},
      warning: (warning) => note(found, warning, fromMs),
    };
    const fold = new FollowFold(railroad, book, sink);
    const seen = new Set<string>();
    let folded = 0;
    for (const { value } of history.passesBetween(fromMs - LEAD_IN_MS, toMs)) {
      if (seen.has(value.id)) continue;
      seen.add(value.id);
      for (const id of railroad.corridorsOf(value.site)) fold.step(id, { type: "pass", pass: value });
      if (++folded % SLICE === 0) await new Promise((resolve) => setImmediate(resolve));
    }
    return found;
  }
}

function note(found: Map<string, Reached>, warning: Warning, fromMs: number): void {
  const timeMs = Date.parse(warning.time);
  if (warning.state === "withdrawn") found.delete(warning.id);
  if (warning.state === "withdrawn" || warning.state === "cleared" || timeMs < fromMs) return;
  const known = found.get(warning.id);
  if (known !== undefined && RANK[known.level] >= RANK[warning.level]) return;
  found.set(warning.id, { train: warning.train, place: warning.place, site: warning.site, level: warning.level, timeMs });
}

function compared(asIs: Map<string, Reached>, other: Map<string, Reached>, about: Omit<WhatIf, "bearings" | "counts">): WhatIf {
  const counts = { same: 0, earlier: 0, later: 0, only: 0, lost: 0 };
  const bearings: WhatIf["bearings"] = [];
  for (const id of [...new Set([...asIs.keys(), ...other.keys()])].sort()) {
    const [now, then] = [asIs.get(id), other.get(id)];
    const at = then ?? now;
    if (at === undefined) continue;
    const kind = kindOf(now, then);
    counts[kind]++;
    if (bearings.length >= MOST_BEARINGS) continue;
    const reached = (one: Reached | undefined) => (one === undefined ? null : { level: one.level, timeMs: one.timeMs });
    bearings.push({ train: at.train, place: at.place, site: at.site, asIs: reached(now), whatIf: reached(then), words: WORDS[kind] });
  }
  bearings.sort((a, b) => (a.words === WORDS.same ? 1 : 0) - (b.words === WORDS.same ? 1 : 0));
  return { ...about, bearings, counts };
}

const WORDS = {
  same: "the same",
  earlier: "higher or earlier under the other rules",
  later: "lower or later under the other rules",
  only: "only under the other rules",
  lost: "not under the other rules",
} as const;

function kindOf(now: Reached | undefined, then: Reached | undefined): keyof typeof WORDS {
  if (now === undefined) return "only";
  if (then === undefined) return "lost";
  const rise = RANK[then.level] - RANK[now.level];
  if (rise !== 0) return rise > 0 ? "earlier" : "later";
  return then.timeMs === now.timeMs ? "same" : then.timeMs < now.timeMs ? "earlier" : "later";
}
