import { sameBearing } from "../../replay/same-bearing.ts";
import type { Warning } from "../../warning/warning.ts";
import type { WarningCase } from "./warning-case.ts";

const RANK = { watch: 0, warn: 1, limit: 2 } as const;

/**
 * Which warnings of different corridors are of one bearing: where corridors meet each warns of it under an id of its own.
 * Found by the readings behind them, for journeys and roster numbers are each corridor's own.
 */
export class SameBearings {
  private readonly byReading = new Map<string, Set<WarningCase>>();
  private readonly keys = new Map<WarningCase, readonly string[]>();
  private readonly same = new Map<WarningCase, ReadonlySet<WarningCase>>();

  /** A case that is new or has a new version. Answers with the others whose rows it changes. */
  see(one: WarningCase): Set<WarningCase> {
    const before = this.same.get(one) ?? new Set<WarningCase>();
    this.unlist(one);
    const now = new Set<WarningCase>();
    if (one.last.state !== "withdrawn") {
      this.list(one);
      for (const other of this.near(one)) if (isSame(one.last, other.last)) now.add(other);
    }
    for (const other of before) if (!now.has(other)) this.join(other, one, false);
    for (const other of now) if (!before.has(other)) this.join(other, one, true);
    this.keep(one, now);
    return new Set([...before, ...now]);
  }

  /** A case that was let go. Answers with the others that pointed to it. */
  forget(one: WarningCase): WarningCase[] {
    const others = this.othersOf(one);
    for (const other of others) this.join(other, one, false);
    this.same.delete(one);
    this.unlist(one);
    return others;
  }

  /** The other warnings of the same bearing. */
  othersOf(one: WarningCase): WarningCase[] {
    return [...(this.same.get(one) ?? [])].sort((a, b) => (a.last.id < b.last.id ? -1 : 1));
  }

  /** The warning that speaks for the bearing: of the corridor that heard it last, then of the higher level. */
  leaderOf(one: WarningCase): WarningCase {
    return this.othersOf(one).reduce((best, other) => (speaksBefore(other.last, best.last) ? other : best), one);
  }

  private near(one: WarningCase): Set<WarningCase> {
    const found = new Set<WarningCase>();
    for (const key of this.keys.get(one) ?? []) for (const other of this.byReading.get(key) ?? []) if (other !== one) found.add(other);
    return found;
  }

  private list(one: WarningCase): void {
    const keys = keysOf(one.last);
    this.keys.set(one, keys);
    for (const key of keys) {
      const there = this.byReading.get(key);
      if (there === undefined) this.byReading.set(key, new Set([one]));
      else there.add(one);
    }
  }

  private unlist(one: WarningCase): void {
    for (const key of this.keys.get(one) ?? []) {
      const there = this.byReading.get(key);
      there?.delete(one);
      if (there?.size === 0) this.byReading.delete(key);
    }
    this.keys.delete(one);
  }

  private join(one: WarningCase, other: WarningCase, isSameNow: boolean): void {
    const now = new Set(this.same.get(one));
    if (isSameNow) now.add(other);
    else now.delete(other);
    this.keep(one, now);
  }

  private keep(one: WarningCase, now: ReadonlySet<WarningCase>): void {
    if (now.size === 0) this.same.delete(one);
    else this.same.set(one, now);
  }
}

function isSame(a: Warning, b: Warning): boolean {
  return a.corridor !== b.corridor && sameBearing({ last: a, later: [] }, { last: b, later: [] });
}

function keysOf({ pass, axle, evidence }: Warning): string[] {
  const read = evidence.filter((one) => one.axle !== null && one.riseF !== null).map((one) => `${one.pass} ${one.axle}`);
  return [...new Set([`${pass} ${axle}`, ...read])];
}

function heardMs({ evidence, time }: Warning): number {
  return Date.parse(evidence.at(-1)?.time ?? time);
}

function speaksBefore(a: Warning, b: Warning): boolean {
  const [aMs, bMs] = [heardMs(a), heardMs(b)];
  if (aMs !== bMs) return aMs > bMs;
  if (a.level !== b.level) return RANK[a.level] > RANK[b.level];
  return a.id < b.id;
}
