import type { ConsistVehicle } from "../feed/record.ts";
import type { Vehicle } from "./vehicle.ts";

/** Scores of laying a consist along a train; only their order of size matters. Assumptions. */
export const SCORE = { same: 1, nearly: 0.2, different: -3, length: 0.5, lengthOff: -3, tagSame: 10, tagDifferent: -10, left: -0.8 };
/** A vehicle gets its place when the best way to lay the consist beats every way that places it otherwise by this much. */
export const MARGIN = 1.4;
/** Vehicles that a laying may be off the straight one before wider ones are looked at: trains mostly need 1 to 6 (measured). */
const FIRST_SPREAD = 8;
/** Totals are sums of float32: far more than they can be off by. */
const ROUNDING = 0.01;

/** Length over couplers and its standard deviation, ft. */
export interface Length {
  feet: number;
  sdFeet: number;
}

/** A consist laid one way round: places in it that no other laying contests, by vehicle; -1 where contested. */
export interface Laid {
  placeOf: Int16Array;
  backward: boolean;
}

/** What is known of the vehicles that a consist is laid along. */
export interface Train {
  vehicles: readonly Vehicle[];
  lengths: readonly Length[];
  /** Tags by vehicle. */
  tags: ReadonlyMap<number, string>;
}

/** Vehicle i goes with place j of the consist only where `first` <= j - i <= `last`: all that a good laying needs. */
interface Band {
  first: number;
  last: number;
}

/**
 * Lays a consist along the vehicles found, either way round: global alignment from the head, then from the tail for the
 * better way only, so that each pair's best total is known. Only a band about the straight laying is looked at, as wide as
 * it takes that no laying outside it can come within the margin of the best one: the result is that of the whole square.
 */
export function lay(train: Train, forward: readonly ConsistVehicle[], backward: readonly ConsistVehicle[]): Laid {
  const rows = train.vehicles.length;
  const columns = forward.length;
  ahead.take(rows, forward);
  astern.take(rows, backward);
  let spread = FIRST_SPREAD;
  for (;;) {
    const band: Band = { first: Math.min(0, columns - rows) - spread, last: Math.max(0, columns - rows) + spread };
    const aheadTotal = ahead.fromHead(train, band);
    const asternTotal = astern.fromHead(train, band);
    const needed = spreadNeeded(train, forward, Math.max(aheadTotal, asternTotal));
    if (needed <= spread) {
      const isBackward = asternTotal > aheadTotal;
      return { placeOf: (isBackward ? astern : ahead).fromTail(band), backward: isBackward };
    }
    spread = needed;
  }
}

/**
 * How wide a band must be for a best total. A laying that leaves the band by one place leaves out `spread + 1` vehicles and
 * as many of the consist, on top of the difference of both; whatever it pairs can at best be all alike.
 */
function spreadNeeded({ vehicles, tags }: Train, order: readonly ConsistVehicle[], best: number): number {
  const [rows, columns] = [vehicles.length, order.length];
  let most = SCORE.same;
  for (const { length } of order) if (length !== undefined) most = SCORE.same + SCORE.length;
  let known = 0;
  if (tags.size > 0) {
    const ids = new Set(order.map(({ id }) => id));
    for (const tag of tags.values()) if (ids.has(tag)) known++;
  }
  const alike = most * Math.min(rows, columns) + SCORE.tagSame * known + SCORE.left * Math.abs(rows - columns);
  const perPlace = most - 2 * SCORE.left;
  const needed = Math.ceil((alike - best + MARGIN + ROUNDING) / perPlace) - 1;
  return Math.min(needed, Math.max(rows, columns));
}

/** One way round of a consist along a train. Its scratch is kept between calls; its size is bounded by the caller. */
class Way {
  #rows = 0;
  #columns = 0;
  #order: readonly ConsistVehicle[] = [];
  /** Axles of each place of the consist, a locomotive's below zero; feet, NaN where not known. */
  #kinds = new Int32Array(0);
  #feet = new Float64Array(0);
  /** How well each vehicle goes with each place, a row a vehicle; best totals from the head, a row and a column more. */
  #pairs = new Float32Array(0);
  #heads = new Float32Array(0);

  take(rows: number, order: readonly ConsistVehicle[]): void {
    this.#rows = rows;
    this.#columns = order.length;
    this.#order = order;
    const cells = (rows + 1) * (order.length + 1);
    if (this.#heads.length < cells) {
      this.#pairs = new Float32Array(cells);
      this.#heads = new Float32Array(cells);
    }
    if (this.#kinds.length < order.length) {
      this.#kinds = new Int32Array(order.length);
      this.#feet = new Float64Array(order.length);
    }
    for (let j = 0; j < order.length; j++) {
      const { kind, axles, length } = order[j]!;
      this.#kinds[j] = kind === "car" ? axles : -axles;
      this.#feet[j] = length !== undefined && length > 0 ? length : Number.NaN;
    }
  }

  /** Best totals from the head up to each place: pairing, or leaving out a vehicle or one of the consist's. */
  fromHead(train: Train, { first, last }: Band): number {
    const [heads, pairs, columns] = [this.#heads, this.#pairs, this.#columns];
    const width = columns + 1;
    const { left } = SCORE;
    heads[0] = 0;
    const reach = Math.min(columns, last);
    for (let j = 1; j <= reach; j++) heads[j] = heads[j - 1]! + left;
    if (reach < columns) heads[reach + 1] = Number.NEGATIVE_INFINITY;
    for (let i = 1; i <= this.#rows; i++) {
      this.#pair(train, i - 1, first, last);
      const at = i * width;
      const above = at - width;
      const pair = (i - 1) * columns - 1;
      const from = Math.max(1, i + first);
      const to = Math.min(columns, i + last);
      let corner = heads[above + from - 1]!;
      // Totals are held as float32, as they are stored.
      let most = i + first > 0 ? Number.NEGATIVE_INFINITY : Math.fround(corner + left);
      heads[at + from - 1] = most;
      for (let j = from; j <= to; j++) {
        const over = heads[above + j]!;
        const both = corner + pairs[pair + j]!;
        if (over > most) most = over;
        most += left;
        if (both > most) most = both;
        most = Math.fround(most);
        heads[at + j] = most;
        corner = over;
      }
      if (to < columns) heads[at + to + 1] = Number.NEGATIVE_INFINITY;
    }
    return heads[this.#rows * width + columns]!;
  }

  /** The same from the tail, a row of totals at a time; each vehicle's place where every other way is worse by the margin. */
  fromTail({ first, last }: Band): Int16Array {
    const [pairs, rows, columns] = [this.#pairs, this.#rows, this.#columns];
    const { left } = SCORE;
    const placeOf = new Int16Array(rows).fill(-1);
    const behind = new Float32Array(columns + 1).fill(Number.NEGATIVE_INFINITY);
    behind[columns] = 0;
    for (let j = columns - 1; j >= Math.max(0, rows + first); j--) behind[j] = behind[j + 1]! + left;
    for (let i = rows - 1; i >= 0; i--) {
      const from = Math.max(0, i + first);
      const to = Math.min(columns - 1, i + last);
      placeOf[i] = this.#uncontested(i, from, to, behind);
      const pair = i * columns;
      let corner = behind[to + 1]!;
      let most = Number.NEGATIVE_INFINITY;
      if (i + last >= columns) {
        most = Math.fround(corner + left);
        behind[columns] = most;
      }
      for (let j = to; j >= from; j--) {
        const over = behind[j]!;
        const both = corner + pairs[pair + j]!;
        if (over > most) most = over;
        most += left;
        if (both > most) most = both;
        most = Math.fround(most);
        behind[j] = most;
        corner = over;
      }
    }
    return placeOf;
  }

  /** Place of vehicle `i` among those from `from` to `to`, given the best totals behind it; -1 where another way is nearly as good. */
  #uncontested(i: number, from: number, to: number, behind: Float32Array): number {
    const [heads, pairs, columns] = [this.#heads, this.#pairs, this.#columns];
    const head = i * (columns + 1);
    const pair = i * columns;
    let first = Number.NEGATIVE_INFINITY;
    let second = Number.NEGATIVE_INFINITY;
    let at = -1;
    for (let j = from; j <= to; j++) {
      // Left out of the consist at this place is one of the other ways.
      const out = heads[head + j]! + SCORE.left + behind[j]!;
      if (out > second) second = out;
      const total = heads[head + j]! + pairs[pair + j]! + behind[j + 1]!;
      if (total > first) {
        if (first > second) second = first;
        first = total;
        at = j;
      } else if (total > second) second = total;
    }
    const out = heads[head + to + 1]! + SCORE.left + behind[to + 1]!;
    if (out > second) second = out;
    return at >= 0 && first - second >= MARGIN && pairs[pair + at]! > 0 ? at : -1;
  }

  /** How well vehicle `i` goes with the places of the band. */
  #pair({ vehicles, lengths, tags }: Train, i: number, first: number, last: number): void {
    const [pairs, kinds, feetOf] = [this.#pairs, this.#kinds, this.#feet];
    const { kind, axles, odd } = vehicles[i]!;
    const { feet, sdFeet } = lengths[i]!;
    const wanted = kind === "car" ? axles : -axles;
    const nearly = odd === undefined ? SCORE.different : SCORE.nearly;
    const at = i * this.#columns;
    const from = Math.max(0, i + first);
    const to = Math.min(this.#columns - 1, i + last);
    for (let j = from; j <= to; j++) {
      const apart = kinds[j]! - wanted;
      let score = apart === 0 ? SCORE.same : apart === 1 || apart === -1 ? nearly : SCORE.different;
      const off = (feet - feetOf[j]!) / sdFeet;
      // NaN where a length is not known.
      if (!Number.isNaN(off)) score += SCORE.length + Math.max(-0.5 * off * off, SCORE.lengthOff);
      pairs[at + j] = score;
    }
    const tag = tags.get(i);
    if (tag === undefined) return;
    for (let j = from; j <= to; j++) pairs[at + j]! += tag === this.#order[j]!.id ? SCORE.tagSame : SCORE.tagDifferent;
  }
}

const ahead = new Way();
const astern = new Way();
