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

/** Differences of gaps are told apart in steps of a quarter inch up to 10 inches. */
const ALIKE_STEPS_PER_INCH = 4;
const ALIKE_STEPS = 40;

/** Below this the forward pass has lost the train: every path was impossible. Keeps the arithmetic out of denormals. */
const LOST = 1e-280;

/**
 * The spacing model as a hidden Markov chain over the axles of a stretch of train: forward, then backward, then the
 * likeliest path traced under the full posterior. Linear in axles. Scratch space is kept between calls.
 */
export class SpacingChain {
  /** State of each row of the last stretch solved. */
  state: Uint8Array = new Uint8Array(0);
  /** Chance of the traced state at row - 1, given the one at row; 1 at [0]. */
  step: Float64Array = new Float64Array(0);
  /** Posterior chance of the traced state. */
  sure: Float64Array = new Float64Array(0);

  #forward = new Float64Array(0);
  #emission = new Float64Array(0);
  readonly #backward = new Float64Array(STATES);
  readonly #next = new Float64Array(STATES);
  readonly #history = new Float64Array(4);
  readonly #from = Uint8Array.from(EDGES, (edge) => edge.from);
  readonly #to = Uint8Array.from(EDGES, (edge) => edge.to);
  readonly #kind = Uint8Array.from(EDGES, (edge) => edge.kind);
  readonly #chance = Float64Array.from(EDGES, (edge) => edge.chance);
  readonly #alike = ALIKE.map(({ chance, sdInches }) => alikeTable(chance, sdInches));

  /**
   * Solves rows [from, to). `head`: row `from` is the train's first axle, else a vehicle surely ended before it.
   * `tail`: row `to - 1` is the train's last, else a vehicle surely ends with it.
   */
  solve(gapInches: Float32Array, from: number, to: number, head: boolean, tail: boolean): void {
    const rows = to - from;
    this.#reserve(rows);
    this.#emissions(gapInches, from, rows);
    this.#runForward(rows, head);
    this.#runBackward(rows, tail);
  }

  #reserve(rows: number): void {
    if (this.state.length >= rows) return;
    const room = Math.max(64, rows * 2);
    this.state = new Uint8Array(room);
    this.step = new Float64Array(room);
    this.sure = new Float64Array(room);
    this.#forward = new Float64Array(room * STATES);
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
      const { kind, back, chance } = ALIKE[k]!;
      const like = history[back - 1]!;
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
    const start = this.#next;
    start.set(FIRST);
    if (!head) this.#afterCertainEnd(start);
    let total = 0;
    for (let s = 0; s < STATES; s++) total += start[s]!;
    for (let s = 0; s < STATES; s++) forward[s] = start[s]! / total;
    for (let row = 1; row < rows; row++) {
      const at = row * STATES;
      const before = at - STATES;
      const gaps = row * GAP_KINDS;
      forward.fill(0, at, at + STATES);
      for (let e = 0; e < EDGE_COUNT; e++) {
        forward[at + tos[e]!]! += forward[before + froms[e]!]! * chances[e]! * emission[gaps + kinds[e]!]!;
      }
      this.#scale(forward, at);
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

  #scale(values: Float64Array, at: number): void {
    let total = 0;
    for (let s = at; s < at + STATES; s++) total += values[s]!;
    // Nothing the model knows fits: begin anew rather than divide by nothing.
    if (total < LOST) values.fill(1 / STATES, at, at + STATES);
    else for (let s = at; s < at + STATES; s++) values[s] = values[s]! / total;
  }

  #runBackward(rows: number, tail: boolean): void {
    const forward = this.#forward;
    const emission = this.#emission;
    const [froms, tos, kinds, chances] = [this.#from, this.#to, this.#kind, this.#chance];
    const backward = this.#backward;
    backward.set(tail ? LAST : ENDS);
    let state = this.#posterior(rows - 1, -1);
    for (let row = rows - 1; row > 0; row--) {
      const before = (row - 1) * STATES;
      const gaps = row * GAP_KINDS;
      const next = this.#next.fill(0);
      let best = -1;
      let bestWeight = 0;
      let weights = 0;
      for (let e = 0; e < EDGE_COUNT; e++) {
        const through = chances[e]! * emission[gaps + kinds[e]!]!;
        const s = froms[e]!;
        next[s]! += through * backward[tos[e]!]!;
        if (tos[e] === state) {
          const weight = forward[before + s]! * through;
          weights += weight;
          if (weight > bestWeight) {
            bestWeight = weight;
            best = s;
          }
        }
      }
      this.#scale(next, 0);
      backward.set(next);
      this.step[row] = weights > 0 ? bestWeight / weights : 0;
      state = this.#posterior(row - 1, best);
    }
    this.step[0] = 1;
  }

  /** Notes the state of a row (the likeliest one when `state` is -1) with its posterior chance. */
  #posterior(row: number, state: number): number {
    const at = row * STATES;
    let total = 0;
    let best = -1;
    let bestWeight = -1;
    for (let s = 0; s < STATES; s++) {
      const weight = this.#forward[at + s]! * this.#backward[s]!;
      total += weight;
      if (weight > bestWeight) {
        bestWeight = weight;
        best = s;
      }
    }
    const traced = state === -1 ? best : state;
    this.state[row] = traced;
    this.sure[row] = total > 0 ? (this.#forward[at + traced]! * this.#backward[traced]!) / total : 0;
    return traced;
  }
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
