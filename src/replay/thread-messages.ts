import type { RailroadParts } from "../line/railroad-of.ts";
import type { Rules } from "../warning/rule-set.ts";
import type { AccountPart } from "./account.ts";
import type { NarrowOptions } from "./narrow.ts";
import type { Published } from "./published.ts";
import type { ReplayOrder, ShareStanding } from "./share-fold.ts";

/** What a thread is given when it begins: plain data. */
export interface ThreadWork {
  railroad: RailroadParts;
  rules: readonly Rules[];
  narrow: NarrowOptions;
  order: ReplayOrder;
  corridors: readonly string[];
  withFiles: boolean;
  /** Pieces of the feeds lie in it, see `Pieces`. */
  memory: SharedArrayBuffer;
}

/** One step of a day, the same for every thread. */
export type Step =
  /** Bytes of a feed, where they lie in the memory. */
  { type: "piece"; feed: number; at: number; bytes: number } | { type: "feed-end"; feed: number } | { type: "finish" };

/** The answer of a thread to a step, in the order of the steps. */
export interface Stepped {
  published: Published[];
  standing: ShareStanding;
  /** With the last one. */
  part: AccountPart | null;
}
