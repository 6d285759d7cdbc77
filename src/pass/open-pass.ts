import { AxleBlock } from "../feed/axle-block.ts";
import { ambientF, type Edge } from "../feed/edge.ts";
import { AXLES_A_PASS, AXLES_A_RECORD } from "../feed/limits.ts";
import type { Axles, Integrity, PassBegun, PassEnded } from "../feed/record.ts";
import { ScannedAxles } from "../feed/scanned-axles.ts";
import type { Direction } from "../line/railroad.ts";
import { AxleColumns } from "./axle-columns.ts";

/** Rows a fresh pass has room for: a median train (5,400 ft, 2021 [P]) has about 400 axles. It doubles from there. */
const FIRST_ROOM = 512;
/** Records kept until the begin comes: one for every axle a pass may have. */
const EARLY_RECORDS = AXLES_A_PASS;

/** Records that come as arrays are put in here before they are written. */
const arrays = new AxleBlock();
/** Axle records are compared and mixed here before they touch a pass; written anew before each use. */
const bench = new AxleColumns(AXLES_A_RECORD);

/**
 * A pass that is still arriving. Records come in any order; the first word on an axle stands. Reused for pass after pass.
 *
 *   nothing ──axles──► waiting for its begin ──begin──► open ──all axles of its end──► closed
 *      └──────begin──────────────────────────────────────┘  └──time or pushed out──────────┘
 */
export class OpenPass {
  pass = "";
  begunMs = Number.NaN;
  endedMs = Number.NaN;
  direction: Direction = "rising";
  ambientF = Number.NaN;
  /** The pass has no ambient of its own; `ambientF` is that of another pass or NaN. */
  ambientMissing = true;
  train: string | null = null;
  axlesSaid: number | null = null;
  integrity: readonly Integrity[] = [];
  repeatDiffers = false;
  /** Rows up to the highest that arrived, how many of them did, and the latest axle's time. */
  rows = 0;
  arrived = 0;
  lastMs = 0;
  /** Event time when its last record came; minus infinity before event time is known. */
  touchedMs = Number.NEGATIVE_INFINITY;
  readonly columns: AxleColumns = new AxleColumns(FIRST_ROOM);
  /** 1 for each row that arrived. */
  seen: Uint8Array = new Uint8Array(FIRST_ROOM);
  tags: Map<number, string> = new Map();
  #early: Axles[] = [];

  get hasBegin(): boolean {
    return !Number.isNaN(this.begunMs);
  }

  /** Every axle that its end spoke of is here. */
  get complete(): boolean {
    return this.hasBegin && this.axlesSaid !== null && this.arrived === this.rows && this.rows >= this.axlesSaid;
  }

  reset(pass: string, nowMs: number): void {
    this.pass = pass;
    this.begunMs = this.endedMs = this.ambientF = Number.NaN;
    this.ambientMissing = true;
    this.train = null;
    this.axlesSaid = null;
    this.integrity = [];
    this.repeatDiffers = false;
    this.seen.fill(0, 0, this.rows);
    this.rows = this.arrived = this.lastMs = 0;
    this.touchedMs = nowMs;
    this.columns.hasWheel = false;
    this.tags = new Map();
    this.#early.length = 0;
  }

  /** `standInF` is the ambient to use when the record has none. */
  begin(edge: Edge, record: PassBegun, begunMs: number, standInF: number): void {
    this.begunMs = begunMs;
    this.direction = record.direction;
    this.ambientF = ambientF(edge, record.ambient);
    this.ambientMissing = Number.isNaN(this.ambientF);
    if (this.ambientMissing) this.ambientF = standInF;
    this.train = record.train ?? null;
    this.settleEarly(edge);
  }

  sameBegin(edge: Edge, record: PassBegun, begunMs: number): boolean {
    return (
      begunMs === this.begunMs &&
      record.direction === this.direction &&
      Object.is(ambientF(edge, record.ambient), this.ambientMissing ? Number.NaN : this.ambientF) &&
      (record.train ?? null) === this.train
    );
  }

  end(record: PassEnded, endedMs: number): void {
    this.endedMs = endedMs;
    this.axlesSaid = record.axles;
    this.integrity = record.integrity;
  }

  sameEnd(record: PassEnded, endedMs: number): boolean {
    return endedMs === this.endedMs && record.axles === this.axlesSaid && record.integrity.join() === this.integrity.join();
  }

  /** Takes an axle record; false when every axle of it is here already. */
  take(edge: Edge, record: Axles): boolean {
    const block = record instanceof ScannedAxles ? record.block : arrays.fill(record);
    if (this.hasBegin) return this.#write(edge, block);
    // Absolute readings need the ambient that comes with the begin: nothing is converted before it.
    if (this.#early.length < EARLY_RECORDS) this.#early.push(record instanceof ScannedAxles ? record.kept() : record);
    const fresh = this.#fresh(block);
    this.#mark(block, fresh);
    return fresh > 0;
  }

  #write(edge: Edge, block: AxleBlock): boolean {
    const at = block.first - 1;
    const fresh = this.#fresh(block);
    if (fresh === block.count) {
      this.columns.write(edge, this.ambientF, block, at);
      for (let i = 0; i < block.count; i++) if (block.ms[i]! > this.lastMs) this.lastMs = block.ms[i]!;
      if (block.tag !== null) this.#tag(block.tag, at);
    } else this.#mix(edge, block, at);
    this.#mark(block, fresh);
    return fresh > 0;
  }

  /** Converts what came before the begin, or before it was given up. */
  settleEarly(edge: Edge): void {
    if (this.#early.length === 0) return;
    const early = this.#early;
    this.#early = [];
    this.seen.fill(0, 0, this.rows);
    this.rows = this.arrived = 0;
    for (const record of early) this.#write(edge, arrays.fill(record));
  }

  #grow(rows: number): void {
    const room = Math.min(AXLES_A_PASS, Math.max(rows, this.seen.length * 2));
    this.columns.grow(room);
    const seen = new Uint8Array(room);
    seen.set(this.seen);
    this.seen = seen;
  }

  /** How many of the record's axles are not here yet. */
  #fresh(block: AxleBlock): number {
    const at = block.first - 1;
    const rows = at + block.count;
    if (rows > this.seen.length) this.#grow(rows);
    const { seen } = this;
    let fresh = 0;
    for (let row = at; row < rows; row++) fresh += 1 - seen[row]!;
    return fresh;
  }

  #mark(block: AxleBlock, fresh: number): void {
    if (fresh === 0) return;
    const at = block.first - 1;
    const rows = at + block.count;
    for (let row = at; row < rows; row++) this.seen[row] = 1;
    this.arrived += fresh;
    if (rows > this.rows) this.rows = rows;
  }

  #tag(tag: readonly (string | null)[], at: number): void {
    for (let i = 0; i < tag.length; i++) if (tag[i] !== null) this.tags.set(at + i, tag[i]!);
  }

  /** Some axles of the record are here already: the first word stands, another one is noted. */
  #mix(edge: Edge, block: AxleBlock, at: number): void {
    bench.hasWheel = false;
    bench.write(edge, this.ambientF, block, 0);
    for (let i = 0; i < block.count; i++) {
      const row = at + i;
      const tag = block.tag?.[i] ?? null;
      if (this.seen[row] === 1) {
        if (!this.columns.sameRow(bench, i, row) || tag !== (this.tags.get(row) ?? null)) this.repeatDiffers = true;
        continue;
      }
      this.columns.copyRow(bench, i, row);
      if (block.ms[i]! > this.lastMs) this.lastMs = block.ms[i]!;
      if (tag !== null) this.tags.set(row, tag);
    }
  }
}
