import type { Level } from "../../warning/warning.ts";
import type { Row } from "../board/row.ts";
import { needOf } from "../board/urgency.ts";

/** Rows whose last word is remembered; the oldest go. */
const MOST_KNOWN = 50_000;
const HEIGHT: Readonly<Record<Level, number>> = { watch: 0, warn: 1, limit: 2 };

/** Whether a level asks for more than another. */
export function isHigher(level: Level, other: Level): boolean {
  return HEIGHT[level] > HEIGHT[other];
}

export type Kind = "New" | "Raised" | "Lowered" | "Open again" | "Withdrawn";

/** What is to be told of one row. */
export interface Told {
  kind: Kind;
  row: Row;
}

type Known = Pick<Row, "version" | "actions" | "level" | "state">;

/** What of the rows is news to whoever is at the desk: told once, whichever way it came, live, by loading anew, or while looking back. */
export class News {
  private readonly known = new Map<string, Known>();
  /** Everything open was seen once; from then on a row that is not known is new. */
  isComplete = false;

  /** Takes a row's last word in; null: nothing to tell. */
  take(row: Row): Told | null {
    const before = this.known.get(row.id);
    const { version, actions, level, state } = row;
    if (before !== undefined && (version < before.version || (version === before.version && actions <= before.actions))) return null;
    this.known.delete(row.id);
    this.known.set(row.id, { version, actions, level, state });
    if (this.known.size > MOST_KNOWN) this.known.delete(this.known.keys().next().value as string);
    const kind = before === undefined ? this.first(row) : changed(row, before);
    return kind === null ? null : { kind, row };
  }

  /** Before everything was seen a row may have been there all along; a limit is told all the same. */
  private first(row: Row): Kind | null {
    const isNew = this.isComplete || row.version === 1 || row.level === "limit";
    return isNew && needOf(row) !== "closed" ? "New" : null;
  }
}

function changed(row: Row, before: Known): Kind | null {
  if (row.state === "withdrawn") return before.state === "withdrawn" ? null : "Withdrawn";
  if (needOf(row) === "closed") return null;
  if (row.level !== before.level) return isHigher(row.level, before.level) ? "Raised" : "Lowered";
  return row.state === "unacknowledged" && before.state !== "unacknowledged" ? "Open again" : null;
}

/** More than so many at once are told as numbers: nobody listens to twenty trains. */
const MOST_NAMED = 3;

export interface Spoken {
  words: string;
  urgent: boolean;
}

/** What came at once, in words; what concerns a limit interrupts. */
export function spokenOf(news: readonly Told[], siteName: (site: string) => string): Spoken[] {
  if (news.length > MOST_NAMED) {
    const limits = news.filter(({ row, kind }) => row.level === "limit" && kind !== "Withdrawn").length;
    const among = limits === 0 ? "" : `, ${limits} of them at the limit`;
    return [{ words: `${news.length} warnings are new or changed${among}.`, urgent: limits > 0 }];
  }
  return news.map(({ kind, row }) => {
    const where = `train ${row.train ?? "without an id"}, ${row.vehicle ?? "vehicle not told"}, axle ${row.axle}, ${row.side} side, at ${siteName(row.site)}`;
    const what = kind === "Raised" || kind === "Lowered" ? `${kind} to ${row.level}` : `${kind}: ${row.level}`;
    return { words: `${what}, ${where}.`, urgent: row.level === "limit" && kind !== "Withdrawn" };
  });
}

/** The level to sound for all that came at once: the highest; null: none asks for a look. */
export function loudestOf(news: readonly Told[]): Level | null {
  let loudest: Level | null = null;
  for (const { kind, row } of news) {
    if (kind === "Withdrawn" || kind === "Lowered") continue;
    if (loudest === null || isHigher(row.level, loudest)) loudest = row.level;
  }
  return loudest;
}
