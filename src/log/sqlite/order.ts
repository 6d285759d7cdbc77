import type { Source } from "../log.ts";

/** A record whose partition is known, on its way to the writer. */
export interface Placed {
  topic: string;
  partition: number;
  key: string;
  value: Uint8Array;
  headers: Readonly<Record<string, string>>;
}

/** What the writer is asked to do; several orders go into one transaction. */
export type Order =
  | { kind: "append"; records: readonly Placed[] }
  | { kind: "commit"; source: Source; epoch: number; position: number; refoldFrom: number; records: readonly Placed[] }
  | { kind: "claim"; source: Source }
  | { kind: "trim"; nowMs: number };

/** Where records came to lie: in the order of the request, one offset each. */
export interface Written {
  offsets: number[];
  arrivedMs: number[];
}

export interface Trimmed {
  topic: string;
  partition: number;
  /** The first offset that is still there. */
  first: number;
}

export type Done =
  | ({ kind: "written" } & Written)
  | { kind: "claimed"; epoch: number; position: number; refoldFrom: number }
  | { kind: "fenced" }
  | { kind: "behind"; position: number }
  | { kind: "trimmed"; trimmed: Trimmed[] };

/** A transaction's worth of orders and their outcome. `no-room` and `failed`: nothing of it was taken; `unknown`: nobody can tell. */
export interface Request {
  id: number;
  orders: readonly Order[];
}

export type Reply = { id: number } & ({ outcome: "done"; done: Done[] } | { outcome: "no-room" | "failed" | "unknown"; why: string });

export interface WriterSettings {
  folder: string;
  partitions: readonly [string, number][];
  /** Topic -> how long its records are kept. */
  retentionMs: readonly [string, number][];
  /** The file grows no larger than this. */
  mostBytes?: number | undefined;
}

/** What the writer says once it is open. */
export type Opened =
  | { opened: true; partitions: { topic: string; partition: number; first: number; next: number }[] }
  | { opened: false; code: string; why: string };
