import { BearingIndex } from "../replay/same-bearing.ts";
import type { Level, Warning } from "../warning/warning.ts";
import type { WhatIf } from "./views/what-if-shape.ts";

/** Bearings listed. */
const MOST_BEARINGS = 500;

const RANK: Record<Level, number> = { watch: 0, warn: 1, limit: 2 };

/** One warning under one rule set: its last version, and where it first got its highest level. */
export interface Told {
  last: Warning;
  later: [];
  reached: Reached;
}

interface Reached {
  level: Level;
  timeMs: number;
  place: string;
  site: string;
}

type Bearing = Omit<WhatIf["bearings"][number], "words"> & { kind: keyof typeof WORDS };

const WORDS = {
  same: "the same",
  earlier: "higher or earlier under the other rules",
  later: "lower or later under the other rules",
  only: "only under the other rules",
  lost: "not under the other rules",
} as const;

/** Takes a version down among what one rule set told from `fromMs` on. */
export function note(found: Map<string, Told>, warning: Warning, fromMs: number): void {
  const timeMs = Date.parse(warning.time);
  if (warning.state === "withdrawn") found.delete(warning.id);
  if (warning.state === "withdrawn" || warning.state === "cleared" || timeMs < fromMs) return;
  const { level, place, site } = warning;
  const known = found.get(warning.id)?.reached;
  const reached = known !== undefined && RANK[known.level] >= RANK[level] ? known : { level, timeMs, place, site };
  found.set(warning.id, { last: warning, later: [], reached });
}

/**
 * What differs between two rule sets, a bearing a line, those that differ first. A warning's id tells where its rules first
 * spoke, so bearings are matched by the readings behind them: over rule sets, and over corridors.
 */
export function compared(asIs: readonly Told[], other: readonly Told[], about: Omit<WhatIf, "bearings" | "counts">): WhatIf {
  const counts = { same: 0, earlier: 0, later: 0, only: 0, lost: 0 };
  const isOther = new Set(other);
  const bearings = grouped([...asIs, ...other]).map((group) => bearingOf(group, isOther));
  for (const { kind } of bearings) counts[kind]++;
  const listed = bearings.sort(compareBearings).slice(0, MOST_BEARINGS);
  return { ...about, bearings: listed.map(({ kind, ...bearing }) => ({ ...bearing, words: WORDS[kind] })), counts };
}

/** All that was told of one bearing together, by whichever rules. */
function grouped(all: readonly Told[]): Told[][] {
  const index = new BearingIndex(all);
  const taken = new Set<Told>();
  const groups: Told[][] = [];
  for (const told of all) {
    if (taken.has(told)) continue;
    taken.add(told);
    const group = [told];
    // A list that grows while it is walked: a third corridor shares no reading with the first.
    for (const part of group) {
      for (const same of index.matches(part)) {
        if (taken.has(same)) continue;
        taken.add(same);
        group.push(same);
      }
    }
    groups.push(group);
  }
  return groups;
}

function bearingOf(group: readonly Told[], isOther: ReadonlySet<Told>): Bearing {
  const now = highest(group.filter((told) => !isOther.has(told)));
  const then = highest(group.filter((told) => isOther.has(told)));
  const { place, site } = (then ?? now)!;
  const reached = (one: Reached | undefined) => (one === undefined ? null : { level: one.level, timeMs: one.timeMs });
  const train = group.find(({ last }) => last.train !== null)?.last.train ?? null;
  return { train, place, site, asIs: reached(now), whatIf: reached(then), kind: kindOf(now, then) };
}

/** The highest level, and where it was first reached; undefined for nothing. */
function highest(told: readonly Told[]): Reached | undefined {
  const before = (a: Reached, b: Reached) => RANK[b.level] - RANK[a.level] || a.timeMs - b.timeMs || (a.site < b.site ? -1 : 1);
  return told.map(({ reached }) => reached).sort(before)[0];
}

function kindOf(now: Reached | undefined, then: Reached | undefined): Bearing["kind"] {
  if (now === undefined) return "only";
  if (then === undefined) return "lost";
  const rise = RANK[then.level] - RANK[now.level];
  if (rise !== 0) return rise > 0 ? "earlier" : "later";
  return then.timeMs === now.timeMs ? "same" : then.timeMs < now.timeMs ? "earlier" : "later";
}

function compareBearings(a: Bearing, b: Bearing): number {
  if ((a.kind === "same") !== (b.kind === "same")) return a.kind === "same" ? 1 : -1;
  return firstMs(a) - firstMs(b) || (a.site < b.site ? -1 : a.site > b.site ? 1 : a.place < b.place ? -1 : a.place > b.place ? 1 : 0);
}

function firstMs({ asIs, whatIf }: Bearing): number {
  return Math.min(asIs?.timeMs ?? Number.POSITIVE_INFINITY, whatIf?.timeMs ?? Number.POSITIVE_INFINITY);
}
