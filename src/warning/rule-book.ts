import type { Rules } from "./rule-set.ts";

interface Dated {
  fromMs: number;
  rules: Rules;
}

/** All dated rule sets of a railroad. Which one is in force is a question of event time, so a replay asks the same one. */
export class RuleBook {
  #dated: readonly Dated[];

  /** At least one rule set, no two from the same instant (the loader sees to both). */
  constructor(sets: readonly Rules[]) {
    if (sets.length === 0) throw new Error("rule book: at least one rule set is needed");
    this.#dated = sets.map((rules) => ({ fromMs: Date.parse(rules.from), rules })).sort((a, b) => a.fromMs - b.fromMs);
  }

  /** Takes in a set announced later, in force from its own date on. Answers false for an id or a date that the book has already. */
  take(rules: Rules): boolean {
    const fromMs = Date.parse(rules.from);
    if (this.#dated.some((dated) => dated.rules.id === rules.id || dated.fromMs === fromMs)) return false;
    this.#dated = [...this.#dated, { fromMs, rules }].sort((a, b) => a.fromMs - b.fromMs);
    return true;
  }

  /** Oldest first. */
  get sets(): Rules[] {
    return this.#dated.map((dated) => dated.rules);
  }

  /** The set in force at an event time; before the first one, the first: limits must never be missing. */
  at(timeMs: number): Rules {
    for (let i = this.#dated.length - 1; i > 0; i--) {
      const dated = this.#dated[i]!;
      if (dated.fromMs <= timeMs) return dated.rules;
    }
    return this.#dated[0]!.rules;
  }

  /** Whether a set was in force at all; where none was, a warning says so. */
  inForce(timeMs: number): boolean {
    return this.#dated[0]!.fromMs <= timeMs;
  }
}
