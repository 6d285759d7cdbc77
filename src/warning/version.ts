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
  return sameFields(a, b, NOT_CONTENT);
}

const NOT_CONTENT: ReadonlySet<string> = new Set(["version", "correction"]);
const NONE: ReadonlySet<string> = new Set();

/** Whether two values are the same JSON, but for the order of keys: a published warning read back may have them in another one. */
export function sameJson(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (typeof a === "number" || typeof b === "number") return written(a) === written(b);
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null) return false;
  if (Array.isArray(a) !== Array.isArray(b)) return false;
  return Array.isArray(a) ? sameItems(a, b as unknown[]) : sameFields(a, b, NONE);
}

/** A number that JSON does not know is written as null. */
function written(value: unknown): unknown {
  return typeof value === "number" && !Number.isFinite(value) ? null : value;
}

function sameItems(a: readonly unknown[], b: readonly unknown[]): boolean {
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i++) if (!sameJson(a[i] ?? null, b[i] ?? null)) return false;
  return true;
}

/** A field that is undefined is not written, so it is the same as none. */
function sameFields(a: object, b: object, but: ReadonlySet<string>): boolean {
  for (const key in a) {
    if (!but.has(key) && !sameJson(fieldOf(a, key), fieldOf(b, key))) return false;
  }
  for (const key in b) {
    if (!but.has(key) && fieldOf(b, key) !== undefined && fieldOf(a, key) === undefined) return false;
  }
  return true;
}

function fieldOf(value: object, key: string): unknown {
  return Object.hasOwn(value, key) ? (value as Record<string, unknown>)[key] : undefined;
}
