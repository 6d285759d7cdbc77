import type { Decision } from "./decide.ts";
import type { Rules } from "./rule-set.ts";
import type { Warning } from "./warning.ts";

/** Where a bearing is heading: what a new version may be due for. */
export interface Projection {
  chance: number;
  /** Miles of the journey, so that coming nearer to the same place is not a change. */
  crossingMiles: number | null;
  riseF: number | null;
}

export function projectionOf(content: Pick<Warning, "chances" | "crossing" | "riseF" | "evidence">): Projection {
  const hereMiles = content.evidence.at(-1)?.miles ?? 0;
  return {
    chance: content.chances.beforeNextSite,
    crossingMiles: content.crossing === null ? null : hereMiles + content.crossing.miles,
    riseF: content.riseF,
  };
}

/** Whether a projection moved by at least a step of the rules since the published one. */
export function moved(from: Projection, to: Projection, step: Rules["newVersion"]): boolean {
  if (Math.abs(to.chance - from.chance) >= step.chance) return true;
  if ((to.crossingMiles === null) !== (from.crossingMiles === null)) return true;
  if (to.crossingMiles !== null && Math.abs(to.crossingMiles - from.crossingMiles!) >= step.crossingMiles) return true;
  return to.riseF !== null && (from.riseF === null || Math.abs(to.riseF - from.riseF) >= step.riseF);
}

/** A decision that is published whatever the projection does. */
export function alwaysPublished(decision: Decision): boolean {
  return decision.change === "raised" || decision.change === "lapsed" || decision.now === "limit";
}

/** Whether two versions of one id say the same: all but the number of the version and the mark of a correction. */
export function sameContent(a: Warning, b: Warning): boolean {
  const bare = (warning: Warning) => JSON.stringify(ordered({ ...warning, version: 0, correction: false }));
  return bare(a) === bare(b);
}

/** A published warning read back may have its keys in another order. */
function ordered(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(ordered);
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([key, inner]) => [key, ordered(inner)]),
  );
}
