import type { DeskAction } from "../feed/record.ts";
import { type Decision, rank } from "./decide.ts";
import type { RuleBook } from "./rule-book.ts";
import type { AlarmState, Level } from "./warning.ts";
import { sentence, utcMinute } from "./words.ts";

/**
 * The life of one bearing's warning: alarm states in the words of IEC 62682 and ISA-18.2, moved here and nowhere else.
 *
 * ```
 *                level raised, limit read                acknowledge
 *   (normal) ────────────────────────► unacknowledged ─────────────────► acknowledged
 *                                       ▲  ▲  │    ▲    level raised,     │ │
 *                                       │  │  │    └─── limit read again ─┘ │
 *                                       │  │  └──┐                     ┌────┘
 *                                       │  │     ▼ shelve (no limit)   ▼
 *                                       │  └── shelved ── until, unshelve ──► what it was before
 *                                       │     level raised: unacknowledged
 *    new rise after the clearance,      │
 *    limit read again                   │
 *   cleared ────────────────────────────┤ ◄─ limit read again ── out-of-service
 *      ▲  ▲                                                        │      ▲
 *      │  └────────────── return to service ───────────────────────┘      │ found: defect confirmed
 *      └─ found: nothing, wheel or brake; a watch lapsed: from unacknowledged, acknowledged, shelved
 * ```
 *
 * Bearing warnings are latched: no reading clears a `warn` or a `limit`. After an inspection found nothing, only a new
 * rise (`desk.riseAgainF` of the rules) or the limit raises it again. `withdrawn` is not a state of a bearing's life; the
 * ledger gives it to an id that a late pass took away.
 */
export interface Stand {
  level: Level | null;
  state: Exclude<AlarmState, "withdrawn">;
  /** Event time of the last change of this stand. */
  sinceMs: number;
  /** Event time of the last decision that changed the level or the state. */
  decidedMs: number;
  /** Set while shelved. */
  shelf: { untilMs: number; from: "unacknowledged" | "acknowledged" } | null;
  assignedTo: string | null;
  /** Last measured rise before an inspection cleared it: what a new rise is counted from. null: never inspected. */
  clearedAtF: number | null;
  lastRiseF: number;
  /** What people did and what came of it, oldest first, as sentences. */
  log: string[];
}

/** Sentences kept of what people did; the oldest but the first go. */
const MAX_LOG = 40;
const HOUR_MS = 3_600_000;

/** Nothing has happened yet. */
export function normal(): Stand {
  return {
    level: null,
    state: "cleared",
    sinceMs: Number.NEGATIVE_INFINITY,
    decidedMs: Number.NEGATIVE_INFINITY,
    shelf: null,
    assignedTo: null,
    clearedAtF: null,
    lastRiseF: Number.NaN,
    log: [],
  };
}

/**
 * The stand after all decisions and desk actions up to `untilMs`, in event-time order whatever order they came in (an
 * action counts as done after what it is about was raised, for a site's clock may be ahead of the desk's). Pure: folding again
 * after a late pass gives what would have been, had it come in time.
 */
export function stand(decisions: readonly Decision[], actions: readonly DeskAction[], book: RuleBook, untilMs: number): Stand {
  const raisedMs = decisions.find((decision) => decision.level !== null)?.timeMs ?? Number.POSITIVE_INFINITY;
  const ordered = orderedActions(actions).map((action) => ({ timeMs: Math.max(Date.parse(action.time), raisedMs), action }));
  let at = normal();
  let next = 0;
  for (const decision of decisions) {
    while (next < ordered.length && ordered[next]!.timeMs < decision.timeMs)
      at = act(at, ordered[next]!.action, ordered[next++]!.timeMs, book);
    at = see(at, decision);
  }
  while (next < ordered.length) at = act(at, ordered[next]!.action, ordered[next++]!.timeMs, book);
  return expire(at, untilMs);
}

/** By time, then id; a repeated id counts once. */
export function orderedActions(actions: readonly DeskAction[]): DeskAction[] {
  const once = [...new Map(actions.map((action) => [action.id, action])).values()];
  const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);
  return once.sort((a, b) => Date.parse(a.time) - Date.parse(b.time) || compare(a.id, b.id));
}

/** What a decision does to a stand. */
export function see(before: Stand, decision: Decision): Stand {
  const at = expire(before, decision.timeMs);
  const lastRiseF = Number.isNaN(decision.riseF) ? at.lastRiseF : decision.riseF;
  const seen = { ...at, lastRiseF };
  const decided = { sinceMs: decision.timeMs, decidedMs: decision.timeMs };
  if (decision.level === null) {
    const lapses = decision.change === "lapsed" && at.level === "watch" && at.state !== "cleared" && at.state !== "out-of-service";
    return lapses ? { ...seen, ...decided, state: "cleared", shelf: null } : seen;
  }
  const raised: Stand = { ...seen, ...decided, level: decision.level, state: "unacknowledged", shelf: null, clearedAtF: null };
  // Every reading at the limit is a new event that somebody must answer, whatever was said of an earlier one.
  if (decision.now === "limit") return raised;
  if (at.state === "cleared") return raisesAgain(at, decision) ? raised : seen;
  if (at.state === "out-of-service") return seen;
  return rank(decision.level) > rank(at.level) ? raised : seen;
}

/** After a clearance by inspection a new rise is needed; without one (never raised, or a lapsed watch) any raise will do. */
function raisesAgain(at: Stand, decision: Decision): boolean {
  if (at.clearedAtF === null) return true;
  if (decision.now === null || Number.isNaN(decision.riseF)) return false;
  return Number.isNaN(at.clearedAtF) || decision.riseF >= at.clearedAtF + decision.riseAgainF;
}

/** What a desk action does. One that changes nothing (repeated, not possible here) leaves the stand as it is, or says why in the log. */
export function act(before: Stand, action: DeskAction, timeMs: number, book: RuleBook): Stand {
  const at = expire(before, timeMs);
  if (at.level === null) return at;
  const said = `${utcMinute(timeMs)}, ${action.by}`;
  const open = at.state === "unacknowledged" || at.state === "acknowledged" || at.state === "shelved";
  const changed = (change: Partial<Stand>, words: string): Stand => ({
    ...at,
    ...change,
    sinceMs: timeMs,
    log: logged(at, `${said}: ${words}`),
  });
  const noted = (words: string): Stand => changed({}, words);
  switch (action.action) {
    case "acknowledge":
      return at.state === "unacknowledged" ? changed({ state: "acknowledged" }, "acknowledged") : at;
    case "assign":
      if (action.to === undefined || action.to === at.assignedTo) return at;
      return changed({ assignedTo: action.to }, `assigned to ${action.to}`);
    case "note":
      return action.text === undefined ? at : noted(`note: ${action.text}`);
    case "found":
      return open || action.found === "not-inspected" ? found(at, action, changed) : at;
    case "shelve":
      return open ? shelve(at, action, timeMs, book, changed) : at;
    case "unshelve":
      return at.shelf === null ? at : changed({ state: at.shelf.from, shelf: null }, "unshelved");
    case "out-of-service":
      // Sites are taken out of service; of a bearing an inspection says so (found).
      return at;
    case "return-to-service":
      if (at.state !== "out-of-service") return at;
      return changed({ state: "cleared", clearedAtF: at.lastRiseF }, "returned to service");
  }
}

type Change = (change: Partial<Stand>, words: string) => Stand;

function found(at: Stand, action: DeskAction, changed: Change): Stand {
  const cleared: Partial<Stand> = { state: "cleared", shelf: null, clearedAtF: at.lastRiseF };
  const more = action.text === undefined ? "" : ` (${action.text})`;
  switch (action.found) {
    case "defect-confirmed":
      return changed({ state: "out-of-service", shelf: null, clearedAtF: at.lastRiseF }, `found: defect confirmed${more}`);
    case "nothing-found":
      return changed(cleared, `found: nothing${more}`);
    case "wheel-or-brake":
      return changed(cleared, `found: wheel or brake, not the bearing${more}`);
    case "not-inspected":
      return changed({}, `not inspected, so the warning stands${more}`);
    default:
      return at;
  }
}

function shelve(at: Stand, action: DeskAction, timeMs: number, book: RuleBook, changed: Change): Stand {
  if (at.level === "limit") return changed({}, "asked to shelve, which is not possible for a bearing that reached the limit");
  const maxHours = book.at(timeMs).desk.shelveMaxHours;
  const asked = action.until === undefined ? Number.NaN : Date.parse(action.until);
  if (maxHours === 0 || asked <= timeMs) return at;
  const mostMs = timeMs + maxHours * HOUR_MS;
  const untilMs = Number.isNaN(asked) ? mostMs : Math.min(asked, mostMs);
  if (at.shelf?.untilMs === untilMs) return at;
  const from = at.shelf?.from ?? (at.state === "acknowledged" ? "acknowledged" : "unacknowledged");
  const cut = asked <= mostMs ? "" : `, the longest that the rules allow (${maxHours} hours)`;
  return changed({ state: "shelved", shelf: { untilMs, from } }, `shelved until ${utcMinute(untilMs)}${cut}`);
}

/** A shelf ends by itself. */
export function expire(at: Stand, nowMs: number): Stand {
  if (at.shelf === null || at.shelf.untilMs > nowMs) return at;
  const { untilMs, from } = at.shelf;
  return { ...at, state: from, shelf: null, sinceMs: untilMs, log: logged(at, `${utcMinute(untilMs)}: the shelf ended`) };
}

function logged(at: Stand, words: string): string[] {
  const log = [...at.log, sentence(words)];
  if (log.length > MAX_LOG) log.splice(1, 1);
  return log;
}
