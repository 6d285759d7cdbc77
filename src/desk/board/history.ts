import type { Railroad } from "../../line/railroad.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import type { DeskRecord } from "./desk-record.ts";
import { DeskState } from "./desk-state.ts";

/** Records kept for looking back: passes are dear (all their axles), the rest is not. The oldest go first. Assumptions. */
export const HISTORY_LIMITS = { passes: 5_000, others: 200_000, states: 4 } as const;

/** Records folded before others get their turn. */
const FOLD_SLICE = 200;

/**
 * The records behind the live state, in the order in which they came, so that any time they reach back to can be folded again.
 * Heartbeats are left out: what a site last said is no history.
 */
export class History {
  private readonly railroad: Railroad;
  private readonly book: RuleBook;
  private readonly limits: { passes: number; others: number; states: number };
  private records: DeskRecord[] = [];
  private passes = 0;
  private readonly states = new Map<number, Promise<DeskState>>();

  constructor(railroad: Railroad, book: RuleBook, limits: { passes: number; others: number; states: number } = HISTORY_LIMITS) {
    this.railroad = railroad;
    this.book = book;
    this.limits = limits;
  }

  add(record: DeskRecord): void {
    if (record.kind === "report" && record.value.type === "heartbeat") return;
    this.records.push(record);
    if (record.kind === "pass") this.passes++;
    if (this.passes > this.limits.passes * 1.1 || this.records.length - this.passes > this.limits.others * 1.1) this.trim();
  }

  /** When the oldest record came that is still here; null: there is none. */
  get fromMs(): number | null {
    return this.records[0]?.arrivedMs ?? null;
  }

  /** Passes that ended in a window, each once, in event-time order: what another rule set is tried on. */
  passesBetween(fromMs: number, toMs: number): Extract<DeskRecord, { kind: "pass" }>[] {
    const found = this.records.filter(
      (one): one is Extract<DeskRecord, { kind: "pass" }> =>
        one.kind === "pass" && one.value.endedMs >= fromMs && one.value.endedMs <= toMs,
    );
    return found.sort((a, b) => a.value.endedMs - b.value.endedMs);
  }

  all(): readonly DeskRecord[] {
    return this.records;
  }

  /** The state as it stood at a time: of all records that had come by then. Yields to others while it folds. */
  at(timeMs: number): Promise<DeskState> {
    const known = this.states.get(timeMs);
    if (known !== undefined) return known;
    const made = this.fold(timeMs);
    this.states.set(timeMs, made);
    made.catch(() => this.states.delete(timeMs));
    if (this.states.size > this.limits.states) this.states.delete(this.states.keys().next().value as number);
    return made;
  }

  private async fold(timeMs: number): Promise<DeskState> {
    const state = new DeskState(this.railroad, this.book);
    const records = this.records;
    const end = records.length;
    for (let i = 0; i < end; i++) {
      const record = records[i]!;
      if (record.arrivedMs <= timeMs) state.fold(record);
      if (i % FOLD_SLICE === FOLD_SLICE - 1) await new Promise((resolve) => setImmediate(resolve));
    }
    return state;
  }

  /** A new array, for a fold that is under way keeps reading the old one. */
  private trim(): void {
    let passes = this.passes - this.limits.passes;
    let others = this.records.length - this.passes - this.limits.others;
    this.records = this.records.filter((record) => {
      if (record.kind === "pass") return passes-- <= 0;
      return others-- <= 0;
    });
    this.passes = this.records.filter((record) => record.kind === "pass").length;
  }
}
