import type { Direction } from "../line/railroad.ts";

/** What arrives, after its schema: see FEED in DEVELOPERS.md. Values still in the site's own units. */
export interface PassBegun {
  type: "pass-begun";
  site: string;
  track: string;
  pass: string;
  time: string;
  direction: Direction;
  ambient?: number | null | undefined;
  train?: string | null | undefined;
}

/** Axles as columns of equal length; `first` is the ordinal of the first one, from 1. */
export interface Axles {
  type: "axles";
  site: string;
  track: string;
  pass: string;
  first: number;
  ms: number[];
  gap: (number | null)[];
  speed?: (number | null)[] | undefined;
  left: RailColumns;
  right: RailColumns;
  tag?: (string | null)[] | undefined;
}

export interface RailColumns {
  bearing: (number | null)[];
  wheel?: (number | null)[] | undefined;
}

export type Integrity = "slow" | "stopped-over-site" | "count-mismatch" | "scanner-left" | "scanner-right" | "power";

export interface PassEnded {
  type: "pass-ended";
  site: string;
  track: string;
  pass: string;
  time: string;
  axles: number;
  integrity: Integrity[];
}

export type AxleReading = PassBegun | Axles | PassEnded;

export interface Heartbeat {
  type: "heartbeat";
  site: string;
  time: string;
  ambient?: number | null | undefined;
  supplyVolts?: number | null | undefined;
  scanners?: Record<string, { reference?: number | null | undefined }> | undefined;
}

export interface Fault {
  type: "fault";
  site: string;
  time: string;
  device: string;
  fault: string;
  cleared: boolean;
}

export interface Equipment {
  type: "equipment";
  site: string;
  track: string;
  pass: string;
  time: string;
  kind: "hot-bearing" | "hot-wheel" | "dragging" | "high" | "wide" | "integrity";
  axle?: number | null | undefined;
  side?: "left" | "right" | null | undefined;
  value?: number | null | undefined;
  announced: boolean;
}

export interface FunctionalTest {
  type: "functional-test";
  site: string;
  track: string;
  time: string;
  phase: "begun" | "ended";
  tester: string;
  expects?: string[] | undefined;
}

export type SiteReport = Heartbeat | Fault | Equipment | FunctionalTest;

export interface ConsistVehicle {
  id: string;
  kind: "car" | "locomotive";
  axles: number;
  loaded?: boolean | undefined;
  placarded?: boolean | undefined;
  length?: number | undefined;
}

/** Vehicles from the head end. `key`: a key train in the sense of the railroad's rules. */
export interface Consist {
  type: "consist";
  train: string;
  time: string;
  key: boolean;
  vehicles: ConsistVehicle[];
}

/** What people at the desk did. `by` is a role or a user name, never more. */
export interface DeskAction {
  type: "desk-action";
  id: string;
  time: string;
  by: string;
  action: "acknowledge" | "assign" | "note" | "found" | "shelve" | "unshelve" | "out-of-service" | "return-to-service";
  warning?: string | undefined;
  site?: string | undefined;
  /** Of a site: one condition by its id, or one device (`1`, `1/left`); without either, all of the site. */
  condition?: string | undefined;
  device?: string | undefined;
  to?: string | undefined;
  text?: string | undefined;
  found?: "defect-confirmed" | "nothing-found" | "wheel-or-brake" | "not-inspected" | undefined;
  until?: string | undefined;
  /** What a note says was done, where it is one of these. */
  done?: "told-crew" | "train-stopped" | "set-out" | undefined;
  /** With `found`: what the heat-sensitive stick said on the bearing cup. */
  heatStick?: "melted" | "not-melted" | "not-used" | undefined;
  /** What the person had in front of them: version of the warning and how many actions on it. */
  seen?: { version: number; actions: number } | undefined;
}

/**
 * Wall-clock time as a record: the only way it enters. `source` (`<topic>/<partition>`) is where it was written, `of` how
 * many sources there are: time has come as far as the source that is furthest behind.
 */
export interface Tick {
  type: "tick";
  time: string;
  source: string;
  of: number;
}

/**
 * A dated state of the railroad, announced while running: in force from its own `from` on. Written by the running program
 * into every source. `line`: the contents of a line file.
 */
export interface LineAnnounced {
  type: "line";
  time: string;
  line: Record<string, unknown>;
}

export type Topic = "axle-readings" | "site-reports" | "consists" | "desk-actions";

export type FeedRecord = AxleReading | SiteReport | Consist | DeskAction | Tick | LineAnnounced;

/** Where a record came from, for whoever has to look it up: a line of a file or an offset of a partition. */
export interface Origin {
  topic: string;
  partition: number;
  offset: number;
}

/** Every refusal has one of these codes; `feed/reject.ts` says of each what was expected and what to do. */
export interface Rejected extends Origin {
  id: string;
  version: 1;
  reason: string;
  /** Path inside the record, e.g. `left.bearing[3]`; empty for the record as a whole. */
  path: string;
  expected: string;
  advice: string;
  /** The record as it came, at most its first 16 KiB. */
  raw: string;
  /** base64 when the bytes were not UTF-8; utf-8 when left out. */
  rawEncoding?: "utf-8" | "base64" | undefined;
  /** Length of the whole record in bytes. */
  rawBytes?: number | undefined;
}
