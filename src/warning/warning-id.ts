import { createHash } from "node:crypto";

const HASH_CHARACTERS = 16;

/**
 * `W-` and 16 hex digits: from the pass, axle (as the train ran over that site, from 1) and side of travel at which this
 * bearing first got a level, in event-time order. The same whatever the order in which passes came in.
 */
export function warningId(pass: string, axle: number, side: "left" | "right"): string {
  return `W-${createHash("sha256").update(`${pass}\n${axle}\n${side}`).digest("hex").slice(0, HASH_CHARACTERS)}`;
}
