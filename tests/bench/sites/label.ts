import type { ConditionKind } from "../../../src/site/condition.ts";

/** A fault put into the feed, and what is to be said of it. */
export interface Label {
  name: string;
  site: string;
  /** "" the site, `1` a track, `1/left` a scanner. */
  device: string;
  fromMs: number;
  toMs: number;
  /** Any of these is the answer. */
  answers: ConditionKind[];
  /** What the plain rule beside it would have to say. */
  plain: string[];
  /** Goal: found within so many hours; null where the issue sets none. */
  goalHours: number | null;
  /** What else such a fault brings with it, at whatever site: no false answer. */
  besides?: ConditionKind[] | undefined;
}
