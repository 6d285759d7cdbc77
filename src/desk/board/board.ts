import type { DeskAction } from "../../feed/record.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import type { Warning } from "../../warning/warning.ts";
import type { Row } from "./row.ts";
import { SameBearings } from "./same-bearings.ts";
import { comparePlaces, needOf, placeOf } from "./urgency.ts";
import { WarningCase } from "./warning-case.ts";

/** Warnings kept, and actions kept for warnings that did not come yet. Past it the longest closed goes, then the oldest. */
export const MOST_WARNINGS = 20_000;
export const MOST_WAITING = 2_000;

/** All warnings and what people did about them: a pure fold over the topics `warnings` and `desk-actions`, in any order. */
export class Board {
  private readonly cases = new Map<string, WarningCase>();
  private readonly waiting = new Map<string, { action: DeskAction; arrivedMs: number }[]>();
  private readonly same = new SameBearings();
  private readonly book: RuleBook;
  private readonly most: number;
  /** Rows in order, until something changes. */
  private ordered: Row[] | null = null;
  /** Warnings that the limit let go. */
  forgotten = 0;

  constructor(book: RuleBook, most = MOST_WARNINGS) {
    this.book = book;
    this.most = most;
  }

  /** A version of a warning. Returns the warnings whose rows it changed: its own, and those of the same bearing. */
  warning(warning: Warning, arrivedMs: number): string[] {
    this.ordered = null;
    const known = this.cases.get(warning.id);
    if (known !== undefined) return known.say(warning, arrivedMs) ? this.changed(known) : [];
    const made = new WarningCase(warning, arrivedMs, this.book);
    this.cases.set(warning.id, made);
    for (const { action, arrivedMs: actedMs } of this.waiting.get(warning.id) ?? []) made.act(action, actedMs);
    this.waiting.delete(warning.id);
    if (this.cases.size > this.most) this.forgetOne();
    return this.changed(made);
  }

  /** An action on a warning; one on a warning that is not known yet waits for it. */
  action(action: DeskAction, arrivedMs: number): boolean {
    if (action.warning === undefined) return false;
    this.ordered = null;
    const known = this.cases.get(action.warning);
    if (known !== undefined) return known.act(action, arrivedMs);
    const waiting = this.waiting.get(action.warning) ?? [];
    waiting.push({ action, arrivedMs });
    this.waiting.set(action.warning, waiting);
    if (this.waiting.size > MOST_WAITING) this.waiting.delete(this.waiting.keys().next().value as string);
    return false;
  }

  caseOf(id: string): WarningCase | undefined {
    return this.cases.get(id);
  }

  row(id: string): Row | undefined {
    return this.cases.get(id)?.asRow();
  }

  /** Rows in the order of what is left to act on; without those that need nothing unless `closed` is asked for. */
  rows(closed = false): Row[] {
    this.ordered ??= [...this.cases.values()]
      .map((one) => ({ row: one.asRow(), place: placeOf(one.asRow()) }))
      .sort((a, b) => comparePlaces(a.place, b.place))
      .map((one) => one.row);
    // What is closed stands last.
    return closed ? this.ordered : this.ordered.filter((row) => needOf(row) !== "closed");
  }

  all(): IterableIterator<WarningCase> {
    return this.cases.values();
  }

  get size(): number {
    return this.cases.size;
  }

  private changed(one: WarningCase): string[] {
    const near = this.same.see(one);
    this.point(one);
    // A new version may speak for the bearing from now on, or no more.
    return [one.last.id, ...[...near].filter((other) => this.point(other)).map((other) => other.last.id)];
  }

  private point(one: WarningCase): boolean {
    const others = this.same.othersOf(one).map((other) => other.last.id);
    return one.setSame(others, this.same.leaderOf(one) === one);
  }

  private forgetOne(): void {
    let oldest: WarningCase | null = null;
    for (const one of this.cases.values()) {
      if (needOf(one.asRow()) !== "closed") continue;
      if (oldest === null || one.lastArrivedMs < oldest.lastArrivedMs) oldest = one;
    }
    const id = oldest?.last.id ?? (this.cases.keys().next().value as string);
    const gone = this.cases.get(id);
    this.cases.delete(id);
    if (gone !== undefined) for (const other of this.same.forget(gone)) this.point(other);
    this.forgotten++;
  }
}
