import {
  ALIKE,
  C1,
  C2,
  D2,
  DENSITY,
  DOUBLED_BELOW_INCHES,
  E1,
  E2,
  EDGES,
  ENDS,
  FIRST,
  FIRST_MERGED_KIND,
  GAP_KINDS,
  L1,
  LAST,
  LONGEST_GAP_INCHES,
  P1,
  P2,
  STATES,
  UNKNOWN,
  W_ALIKE,
} from "./spacing-model.ts";

const EDGE_COUNT = EDGES.length;

/** Differences of gaps are told apart in steps of a quarter inch up to 30 inches. */
const ALIKE_STEPS_PER_INCH = 4;
const ALIKE_STEPS = 120;

/** Below this the forward pass has lost the train: every path was impossible. Keeps the arithmetic out of denormals. */
const LOST = 1e-280;

/**
 * The spacing model as a hidden Markov chain over the axles of a stretch of train: forward, then backward, then the
 * likeliest path traced back under what both say. Linear in axles. Scratch space is kept between calls.
 */
export class SpacingChain {
  /** State of each row of the last stretch solved. */
  state: Uint8Array = new Uint8Array(0);

  #rows = 0;
  /** Chances of the states of each row given the gaps up to it, what they were divided by, and what the gaps after it say. */
  #forward = new Float64Array(0);
  #divisor = new Float64Array(0);
  #backward = new Float64Array(0);
  #emission = new Float64Array(0);
  readonly #vector = new Float64Array(STATES);
  readonly #other = new Float64Array(STATES);
  readonly #history = new Float64Array(4);
  readonly #from = Uint8Array.from(EDGES, (edge) => edge.from);
  readonly #to = Uint8Array.from(EDGES, (edge) => edge.to);
  readonly #kind = Uint8Array.from(EDGES, (edge) => edge.kind);
  readonly #chance = Float64Array.from(EDGES, (edge) => edge.chance);
  readonly #couples = Uint8Array.from(EDGES, (edge) => (couples(edge.from, edge.to) ? 1 : 0));
  readonly #alike = ALIKE.map(({ chance, sdInches }) => alikeTable(chance, sdInches));

  /**
   * Solves rows [from, to). `head`: row `from` is the train's first axle, else a vehicle surely ended before it.
   * `tail`: row `to - 1` is the train's last, else a vehicle surely ends with it.
   */
  solve(gapInches: Float32Array, from: number, to: number, head: boolean, tail: boolean): void {
    const rows = to - from;
    this.#rows = rows;
    this.#reserve(rows);
    this.#emissions(gapInches, from, rows);
    this.#runForward(rows, head);
    this.#runBackward(rows, tail);
    this.#trace(rows);
  }

  /**
   * Chance that a vehicle of that kind has exactly the rows [first, end) of the stretch, over every way to read them:
   * the forward pass once more, let in only over the coupling in front and out only over the one behind.
   */
  confidence(first: number, end: number, engine: boolean): number {
    const emission = this.#emission;
    const [froms, tos, kinds, chances] = [this.#from, this.#to, this.#kind, this.#chance];
    let inside = this.#vector;
    let next = this.#other;
    this.#enter(first, engine, inside);
    for (let row = first + 1; row < end; row++) {
      const gaps = row * GAP_KINDS;
      next.fill(0);
      for (let e = 0; e < EDGE_COUNT; e++) {
        if (this.#couples[e] === 0) next[tos[e]!]! += inside[froms[e]!]! * chances[e]! * emission[gaps + kinds[e]!]!;
      }
      for (let s = 0; s < STATES; s++) next[s]! /= this.#divisor[row]!;
      [inside, next] = [next, inside];
    }
    return this.#leave(end, inside);
  }

  /** Chances of entering a vehicle at row `first`, on the scale of the forward pass. */
  #enter(first: number, engine: boolean, into: Float64Array): void {
    into.fill(0);
    const forward = this.#forward;
    if (first === 0) into.set(forward.subarray(0, STATES));
    else {
      const before = (first - 1) * STATES;
      const gaps = first * GAP_KINDS;
      for (let e = 0; e < EDGE_COUNT; e++) {
        if (this.#couples[e] === 0) continue;
        into[this.#to[e]!]! += forward[before + this.#from[e]!]! * this.#chance[e]! * this.#emission[gaps + this.#kind[e]!]!;
      }
      for (let s = 0; s < STATES; s++) into[s]! /= this.#divisor[first]!;
    }
    for (let s = 0; s < STATES; s++) if (s >= P1 !== engine || s === UNKNOWN) into[s] = 0;
  }

  /** Share of all that is possible around row `end` that leaves a vehicle there with the chances given. */
  #leave(end: number, inside: Float64Array): number {
    const last = (end - 1) * STATES;
    let left = 0;
    let all = 0;
    if (end === this.#rows) {
      for (let s = 0; s < STATES; s++) {
        left += inside[s]! * this.#backward[last + s]!;
        all += this.#forward[last + s]! * this.#backward[last + s]!;
      }
      return all > 0 ? left / all : 0;
    }
    const gaps = end * GAP_KINDS;
    const after = end * STATES;
    for (let e = 0; e < EDGE_COUNT; e++) {
      const through = this.#chance[e]! * this.#emission[gaps + this.#kind[e]!]! * this.#backward[after + this.#to[e]!]!;
      all += this.#forward[last + this.#from[e]!]! * through;
      if (this.#couples[e] === 1) left += inside[this.#from[e]!]! * through;
    }
    return all > 0 ? left / all : 0;
  }

  #reserve(rows: number): void {
    if (this.state.length >= rows) return;
    const room = Math.max(64, rows * 2);
    this.state = new Uint8Array(room);
    this.#divisor = new Float64Array(room);
    this.#forward = new Float64Array(room * STATES);
    this.#backward = new Float64Array(room * STATES);
    this.#emission = new Float64Array(room * GAP_KINDS);
  }

  /** Density of every kind of gap at every row. */
  #emissions(gapInches: Float32Array, from: number, rows: number): void {
    const emission = this.#emission;
    const history = this.#history.fill(Number.NaN);
    for (let row = Math.max(1, from - history.length); row < from; row++) push(history, gapInches[row]!);
    let split = 0;
    for (let row = 0; row < rows; row++) {
      const gap = gapInches[from + row]!;
      const at = row * GAP_KINDS;
      if (Number.isNaN(gap)) {
        // Not measured: any gap, but one axle a row.
        for (let kind = 0; kind < GAP_KINDS; kind++) emission[at + kind] = kind < FIRST_MERGED_KIND || kind >= W_ALIKE ? 1 : 0;
        for (const { kind, missed } of ALIKE) if (missed) emission[at + kind] = 0;
        push(history, Number.NaN);
        split = 0;
        continue;
      }
      this.#densities(gap, at, 1);
      // After an axle counted twice some sites measure from the first count and some from the second.
      if (split > 0) this.#densities(gap + split, at, 0.5);
      if (gap < DOUBLED_BELOW_INCHES) split = gap;
      else {
        push(history, gap);
        split = 0;
      }
    }
  }

  /** Mixes the densities at `gap` into row offset `at` with weight `share` (1 = replaces). */
  #densities(gap: number, at: number, share: number): void {
    const emission = this.#emission;
    const history = this.#history;
    const inch = Math.max(0, Math.min(LONGEST_GAP_INCHES, Math.round(gap)));
    for (let kind = 0; kind < W_ALIKE; kind++) emission[at + kind] = blend(emission[at + kind]!, DENSITY[kind]![inch]!, share);
    for (let k = 0; k < ALIKE.length; k++) {
      const { kind, like: backs, chance } = ALIKE[k]!;
      let like = 0;
      for (let b = 0; b < backs.length; b++) like += history[backs[b]! - 1]!;
      let density = DENSITY[kind]![inch]!;
      if (!Number.isNaN(like)) {
        const steps = Math.round(Math.abs(gap - like) * ALIKE_STEPS_PER_INCH);
        // Alike, but still the kind of gap it is: a wheelbase is no inner gap because the one before looked like it.
        const possible = density > 1e-6 ? 1 : density * 1e6;
        density = (1 - chance) * density + (steps < ALIKE_STEPS ? possible * this.#alike[k]![steps]! : 0);
      }
      emission[at + kind] = blend(emission[at + kind]!, density, share);
    }
  }

  /** Filtered chances, each row scaled to add up to 1. */
  #runForward(rows: number, head: boolean): void {
    const forward = this.#forward;
    const emission = this.#emission;
    const [froms, tos, kinds, chances] = [this.#from, this.#to, this.#kind, this.#chance];
    const start = this.#vector;
    start.set(FIRST);
    if (!head) this.#afterCertainEnd(start);
    forward.set(start);
    scale(forward, 0);
    for (let row = 1; row < rows; row++) {
      const at = row * STATES;
      const before = at - STATES;
      const gaps = row * GAP_KINDS;
      forward.fill(0, at, at + STATES);
      for (let e = 0; e < EDGE_COUNT; e++) {
        forward[at + tos[e]!]! += forward[before + froms[e]!]! * chances[e]! * emission[gaps + kinds[e]!]!;
      }
      this.#divisor[row] = scale(forward, at);
    }
  }

  /** Row 0 follows a vehicle that surely ended: weigh its states by the coupling in front of them. */
  #afterCertainEnd(start: Float64Array): void {
    start.fill(0);
    for (let e = 0; e < this.#from.length; e++) {
      // An end of a car stands for any end: what follows a locomotive is settled by the spacings themselves.
      const to = this.#to[e]!;
      if (this.#from[e] === D2 && to !== D2 && to !== E1 && to !== E2) start[to]! += this.#chance[e]! * this.#emission[this.#kind[e]!]!;
    }
    let total = 0;
    for (let s = 0; s < STATES; s++) total += start[s]!;
    if (total < LOST) start.set(FIRST);
  }

  /** What the gaps after each row say of its state, each row scaled to add up to 1. */
  #runBackward(rows: number, tail: boolean): void {
    const backward = this.#backward;
    const emission = this.#emission;
    const [froms, tos, kinds, chances] = [this.#from, this.#to, this.#kind, this.#chance];
    backward.set(tail ? LAST : ENDS, (rows - 1) * STATES);
    for (let row = rows - 1; row > 0; row--) {
      const at = row * STATES;
      const before = at - STATES;
      const gaps = row * GAP_KINDS;
      backward.fill(0, before, at);
      for (let e = 0; e < EDGE_COUNT; e++) {
        backward[before + froms[e]!]! += chances[e]! * emission[gaps + kinds[e]!]! * backward[at + tos[e]!]!;
      }
      scale(backward, before);
    }
  }

  /** From the likeliest last state back, each time over the likeliest step. */
  #trace(rows: number): void {
    const forward = this.#forward;
    const emission = this.#emission;
    const last = (rows - 1) * STATES;
    let state = 0;
    for (let s = 1; s < STATES; s++) {
      if (forward[last + s]! * this.#backward[last + s]! > forward[last + state]! * this.#backward[last + state]!) state = s;
    }
    this.state[rows - 1] = state;
    for (let row = rows - 1; row > 0; row--) {
      const before = (row - 1) * STATES;
      const gaps = row * GAP_KINDS;
      let best = state;
      let most = 0;
      for (let e = 0; e < EDGE_COUNT; e++) {
        if (this.#to[e] !== state) continue;
        const weight = forward[before + this.#from[e]!]! * this.#chance[e]! * emission[gaps + this.#kind[e]!]!;
        if (weight > most) {
          most = weight;
          best = this.#from[e]!;
        }
      }
      state = best;
      this.state[row - 1] = state;
    }
  }
}

/** Scales a row to add up to 1; what it was divided by. */
function scale(values: Float64Array, at: number): number {
  let total = 0;
  for (let s = at; s < at + STATES; s++) total += values[s]!;
  if (total < LOST) {
    // Nothing the model knows fits: begin anew rather than divide by nothing.
    values.fill(1 / STATES, at, at + STATES);
    return 1;
  }
  for (let s = at; s < at + STATES; s++) values[s] = values[s]! / total;
  return total;
}

function alikeTable(chance: number, sdInches: number): Float64Array {
  const peak = chance / (sdInches * Math.sqrt(2 * Math.PI));
  return Float64Array.from({ length: ALIKE_STEPS }, (_, step) => peak * Math.exp(-0.5 * (step / ALIKE_STEPS_PER_INCH / sdInches) ** 2));
}

function blend(old: number, fresh: number, share: number): number {
  return share === 1 ? fresh : old * (1 - share) + fresh * share;
}

/** History holds the last four gaps that are no double count, newest first. */
function push(history: Float64Array, gap: number): void {
  history[3] = history[2]!;
  history[2] = history[1]!;
  history[1] = history[0]!;
  history[0] = gap;
}

/** Whether a step between two states leads from one vehicle over the coupling into the next. */
export function couples(from: number, to: number): boolean {
  if (from === to) return false;
  if (to === C1 || to === L1 || to === P1 || to === UNKNOWN) return true;
  return (to === C2 && from !== C1) || (to === L1 + 1 && from !== L1) || (to === P2 && from !== P1);
}
