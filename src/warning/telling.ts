import type { DeskAction } from "../feed/record.ts";
import type { Content } from "./compose.ts";
import type { Decision } from "./decide.ts";
import { type Stand, stand } from "./lifecycle.ts";
import type { RuleBook } from "./rule-book.ts";
import { alwaysPublished, moved, projectionOf } from "./version.ts";
import type { Warning } from "./warning.ts";

/** One decision about a bearing and what it would say by itself. */
export interface Entry {
  legIndex: number;
  passId: string;
  decision: Decision;
  content: Content;
  /** false at a lead-in site: another corridor publishes there. */
  owned: boolean;
}

/** What is to be said of a bearing now. */
export interface Told {
  content: Content;
  stand: Stand;
}

/** A version of a warning before it has its number. */
export type Draft = Omit<Warning, "version" | "correction">;

/**
 * What is to be said of a bearing after all its decisions and desk actions up to `nowMs`; null when this corridor has
 * nothing to say. A function of these alone, so that a small move of the projection is left out of the same versions whether the
 * passes came in order or not.
 */
export function tell(entries: readonly Entry[], actions: readonly DeskAction[], book: RuleBook, nowMs: number): Told | null {
  const owned = entries.filter((entry) => entry.owned);
  const first = owned.findIndex((entry) => entry.decision.level !== null);
  if (first < 0) return null;
  const ours = owned.slice(first);
  const after = stand(
    ours.map((entry) => entry.decision),
    actions,
    book,
    nowMs,
  );
  let shown = ours[0]!;
  for (const entry of ours) {
    if (isDue(shown, entry, book) || entry.decision.timeMs === after.decidedMs) shown = entry;
  }
  return { content: shown.content, stand: after };
}

function isDue(shown: Entry, entry: Entry, book: RuleBook): boolean {
  if (alwaysPublished(entry.decision) || entry.content.level !== shown.content.level) return true;
  // A bearing that was not measured is no news but for that, and once.
  if (entry.decision.sight !== shown.decision.sight) return true;
  if (entry.decision.sight !== "measured") return false;
  return moved(projectionOf(shown.content), projectionOf(entry.content), book.at(entry.decision.timeMs).newVersion);
}

/** The warning that says it. What people did stands at the end of the reasons; an ended warning asks for nothing any more. */
export function draftOf(id: string, told: Told, book: RuleBook): Draft {
  const { content, stand } = told;
  const contentMs = Date.parse(content.time);
  const { ended } = book.at(contentMs).advice;
  const advice = stand.state === "cleared" ? ended.cleared : stand.state === "out-of-service" ? ended.outOfService : content.advice;
  return {
    ...content,
    id,
    supersededBy: null,
    time: new Date(Math.max(contentMs, stand.sinceMs)).toISOString(),
    level: stand.level ?? content.level,
    state: stand.state,
    reasons: stand.log.length === 0 ? content.reasons : [...content.reasons, ...stand.log],
    advice,
  };
}
