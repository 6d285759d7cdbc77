/**
 * What axle spacings look like, as chances: which gap (inches) is likely between which two axles of a vehicle, and which
 * axle follows which. All numbers are assumptions unless a grade stands beside them; every table is a probability
 * density per inch on a 1-inch grid.
 */

/** Longest gap told apart; a longer one counts as this. 116 ft is longer than any car. */
export const LONGEST_GAP_INCHES = 1400;
/** No two axles stand so near each other; a nearer pair is one axle counted twice. Smallest wheels in freight are 28 in (from memory). */
export const DOUBLED_BELOW_INCHES = 42;

/** Chance that the transducers miss an axle, or count one twice. */
const MISSED = 5e-4;
const DOUBLED = 5e-4;

/** A stretch of equally likely gaps with soft ends, as a share of a table. */
interface Stretch {
  share: number;
  low: number;
  high: number;
}

/** Softness of a stretch's ends: 1 inch of noise and 1 to 2 % of spacing scale on a truck. */
const SOFT_INCHES = 1.5;

function table(...stretches: Stretch[]): Float64Array {
  const density = new Float64Array(LONGEST_GAP_INCHES + 1);
  for (const { share, low, high } of stretches) {
    const width = high - low;
    for (let inch = 0; inch <= LONGEST_GAP_INCHES; inch++) {
      const inside = logistic((inch - low) / SOFT_INCHES) * logistic((high - inch) / SOFT_INCHES);
      density[inch]! += (share * inside) / width;
    }
  }
  return density;
}

function logistic(x: number): number {
  return 1 / (1 + Math.exp(-1.7 * x));
}

/** Density of the sum of two gaps: what is measured across an axle that was missed. */
function sumOf(a: Float64Array, b: Float64Array): Float64Array {
  const density = new Float64Array(LONGEST_GAP_INCHES + 1);
  for (let i = 0; i <= LONGEST_GAP_INCHES; i++) {
    if (a[i]! < 1e-7) continue;
    for (let j = 0; i + j <= LONGEST_GAP_INCHES; j++) density[i + j]! += a[i]! * b[j]!;
  }
  return density;
}

/** Freight truck wheelbase: 5.6 to 6.6 ft, 5 ft 10 in common [M]. */
const wheelbase = table({ share: 0.45, low: 68, high: 73 }, { share: 0.4, low: 64, high: 81 }, { share: 0.15, low: 57, high: 92 });
/** Between the trucks of a car: truck centres 20 to 70 ft (assumption), less a wheelbase. */
const inner = table({ share: 0.9, low: 165, high: 780 }, { share: 0.1, low: 85, high: 880 });
/** Between the trucks of an articulated car's units: truck centres 35 to 65 ft (assumption). */
const unit = table({ share: 0.95, low: 340, high: 720 }, { share: 0.05, low: 250, high: 800 });
/** Over a coupling: mostly 7 to 11 ft; long overhangs (flat car outside 95 ft [M]) up to 26 ft. */
const coupling = table({ share: 0.78, low: 78, high: 136 }, { share: 0.17, low: 64, high: 190 }, { share: 0.05, low: 50, high: 330 });
/** Three-axle locomotive truck: 6 ft 6 in to 7 ft 2 in between axles (from memory). */
const engineAxle = table({ share: 0.9, low: 76, high: 88 }, { share: 0.1, low: 68, high: 98 });
/** Between three-axle trucks: truck centres 43 to 50 ft (from memory), less two spacings. */
const engineInner = table({ share: 0.9, low: 310, high: 470 }, { share: 0.1, low: 240, high: 560 });
/** Two-axle locomotive truck, 9 ft (from memory), and between them, truck centres about 34 ft (from memory). */
const shortEngineAxle = table({ share: 0.9, low: 100, high: 117 }, { share: 0.1, low: 93, high: 126 });
const shortEngineInner = table({ share: 0.9, low: 240, high: 380 }, { share: 0.1, low: 180, high: 450 });
const odd = table({ share: 1, low: 45, high: 1000 });
const doubled = table({ share: 1, low: 1, high: DOUBLED_BELOW_INCHES });

/** Kinds of gap; the number indexes DENSITY (1, 2, 10 and 12 are used only as their alike kinds). */
const W = 0;
const C = 3;
const E = 4;
const F = 5;
const S = 6;
const T = 7;
const ODD = 8;
const TWICE = 9;
const W_C = 11;
const E_E = 13;
const E_F = 14;
const E_C = 15;
const S_T = 16;
const S_C = 17;
/** The second wheelbase of a car given its first, the inner gap given the one four axles before, and so on: cars come in blocks. */
export const W_ALIKE = 18;
export const I_ALIKE = 19;
export const C_ALIKE = 20;
export const U_ALIKE = 21;
/** A gap over a missed axle, given what it should be in a block of cars: second, third, fourth and first axle missed. */
const W_I_SECOND = 22;
const W_I_THIRD = 23;
const W_C_FOURTH = 24;
const W_C_FIRST = 25;
const W_U_ALIKE = 26;
export const GAP_KINDS = 27;
/** Kinds from here on up to the alike ones need an axle missed or doubled: impossible where the gap is unknown. */
export const FIRST_MERGED_KIND = TWICE;

/** By gap kind, density over inches; the alike kinds hold the density used where nothing is alike. */
export const DENSITY: Float64Array[] = [
  wheelbase,
  inner,
  unit,
  coupling,
  engineAxle,
  engineInner,
  shortEngineAxle,
  shortEngineInner,
  odd,
  doubled,
  sumOf(wheelbase, inner),
  sumOf(wheelbase, coupling),
  sumOf(wheelbase, unit),
  sumOf(engineAxle, engineAxle),
  sumOf(engineAxle, engineInner),
  sumOf(engineAxle, coupling),
  sumOf(shortEngineAxle, shortEngineInner),
  sumOf(shortEngineAxle, coupling),
  wheelbase,
  inner,
  coupling,
  unit,
  sumOf(wheelbase, inner),
  sumOf(wheelbase, inner),
  sumOf(wheelbase, coupling),
  sumOf(wheelbase, coupling),
  sumOf(wheelbase, unit),
];

/**
 * For each alike kind: which of the last four gaps (1 = the one just before) add up to its like, the chance that it is
 * alike, how alike (sd, inches), and whether it takes a missed axle.
 */
export const ALIKE: readonly { kind: number; like: readonly number[]; chance: number; sdInches: number; missed: boolean }[] = [
  { kind: W_ALIKE, like: [2], chance: 0.9, sdInches: 1.8, missed: false },
  { kind: I_ALIKE, like: [4], chance: 0.5, sdInches: 2.5, missed: false },
  { kind: C_ALIKE, like: [4], chance: 0.5, sdInches: 3, missed: false },
  { kind: U_ALIKE, like: [2], chance: 0.6, sdInches: 9, missed: false },
  { kind: W_I_SECOND, like: [2, 3], chance: 0.5, sdInches: 3, missed: true },
  { kind: W_I_THIRD, like: [1, 4], chance: 0.5, sdInches: 3, missed: true },
  { kind: W_C_FOURTH, like: [2, 3], chance: 0.5, sdInches: 3, missed: true },
  { kind: W_C_FIRST, like: [3, 4], chance: 0.5, sdInches: 3, missed: true },
  { kind: W_U_ALIKE, like: [1, 2], chance: 0.6, sdInches: 9, missed: true },
];

/** Axles of vehicles, as states. C1 C2 D1 D2 car; E1 E2 every further truck of an articulated car; P1 P2 Q1 Q2 and L1..L6 locomotives. */
export const C1 = 0;
export const C2 = 1;
export const D1 = 2;
export const D2 = 3;
export const E1 = 4;
export const E2 = 5;
export const P1 = 6;
export const P2 = 7;
export const Q1 = 8;
export const Q2 = 9;
export const L1 = 10;
export const L6 = 15;
/** An axle of nothing known. */
export const UNKNOWN = 16;
export const STATES = 17;

/** Chance that a car goes on with a third truck, and an articulated car with one more. */
const ARTICULATED = 0.04;
const ONE_MORE_UNIT = 0.6;

/** What the next vehicle is, after a car, after a locomotive, and at an end of the train. */
interface Next {
  car: number;
  engine: number;
  shortEngine: number;
  unknown: number;
}
const AFTER_CAR: Next = { car: 0.984, engine: 0.011, shortEngine: 0.004, unknown: 0.0001 };
const AFTER_ENGINE: Next = { car: 0.55, engine: 0.39, shortEngine: 0.059, unknown: 0.0001 };
const AT_END: Next = { car: 0.35, engine: 0.55, shortEngine: 0.099, unknown: 0.0001 };

export interface Edge {
  from: number;
  to: number;
  chance: number;
  kind: number;
}

/** Every step from one axle to the next that a train can make, with the steps over a missed axle and onto a doubled one. */
export const EDGES: readonly Edge[] = edges();

/** Chance of each state at the first axle, and at the last. */
export const FIRST: Float64Array = firstAxle();
export const LAST: Float64Array = lastAxle();
/** A vehicle surely ends with this axle, whatever follows. */
export const ENDS: Float64Array = ends();

function edges(): Edge[] {
  const list: Edge[] = [];
  const chain = (states: number[], kinds: number[], merged: number[]) => {
    for (let k = 0; k + 1 < states.length; k++) list.push({ from: states[k]!, to: states[k + 1]!, chance: 1 - MISSED, kind: kinds[k]! });
    for (let k = 0; k + 2 < states.length; k++) list.push({ from: states[k]!, to: states[k + 2]!, chance: MISSED, kind: merged[k]! });
  };
  chain([C1, C2, D1, D2], [W, I_ALIKE, W_ALIKE], [W_I_SECOND, W_I_THIRD]);
  chain([P1, P2, Q1, Q2], [S, T, S], [S_T, S_T]);
  chain([L1, L1 + 1, L1 + 2, L1 + 3, L1 + 4, L6], [E, E, F, E, E], [E_E, E_F, E_F, E_E]);
  // Further trucks of an articulated car, and the axles missed around them.
  list.push({ from: D2, to: E1, chance: ARTICULATED, kind: U_ALIKE }, { from: E2, to: E1, chance: ONE_MORE_UNIT, kind: U_ALIKE });
  list.push({ from: E1, to: E2, chance: 1 - MISSED, kind: W_ALIKE });
  list.push(
    { from: D1, to: E1, chance: MISSED * ARTICULATED, kind: W_U_ALIKE },
    { from: E1, to: E1, chance: MISSED * ONE_MORE_UNIT, kind: W_U_ALIKE },
  );
  list.push(
    { from: D2, to: E2, chance: MISSED * ARTICULATED, kind: W_U_ALIKE },
    { from: E2, to: E2, chance: MISSED * ONE_MORE_UNIT, kind: W_U_ALIKE },
  );
  coupled(list, D2, D1, 1 - ARTICULATED, AFTER_CAR, W_C_FOURTH);
  coupled(list, E2, E1, 1 - ONE_MORE_UNIT, AFTER_CAR, W_C);
  coupled(list, Q2, Q1, 1, AFTER_ENGINE, S_C);
  coupled(list, L6, L6 - 1, 1, AFTER_ENGINE, E_C);
  list.push({ from: UNKNOWN, to: UNKNOWN, chance: 0.7, kind: ODD });
  starts(list, UNKNOWN, 0.3, AFTER_CAR, ODD);
  for (let state = 0; state < STATES; state++) list.push({ from: state, to: state, chance: DOUBLED, kind: TWICE });
  return list;
}

/** From a vehicle's last axle (or, when that was missed, its last but one) to the next vehicle's first (or, when missed, second). */
function coupled(list: Edge[], last: number, lastButOne: number, chance: number, next: Next, merged: number): void {
  starts(list, last, chance, next, C);
  starts(list, lastButOne, chance * MISSED, next, merged);
  list.push({ from: last, to: C2, chance: chance * MISSED * next.car, kind: last === D2 ? W_C_FIRST : W_C });
  list.push({ from: last, to: L1 + 1, chance: chance * MISSED * next.engine, kind: E_C });
  list.push({ from: last, to: P2, chance: chance * MISSED * next.shortEngine, kind: S_C });
}

function starts(list: Edge[], from: number, chance: number, next: Next, kind: number): void {
  const toCar = kind === C && from !== L6 && from !== Q2 ? C_ALIKE : kind;
  list.push({ from, to: C1, chance: chance * next.car, kind: toCar });
  list.push({ from, to: L1, chance: chance * next.engine, kind });
  list.push({ from, to: P1, chance: chance * next.shortEngine, kind });
  list.push({ from, to: UNKNOWN, chance: chance * next.unknown, kind: ODD });
}

function firstAxle(): Float64Array {
  const chance = new Float64Array(STATES);
  chance[C1] = AT_END.car;
  chance[L1] = AT_END.engine;
  chance[P1] = AT_END.shortEngine;
  chance[UNKNOWN] = AT_END.unknown;
  chance[C2] = MISSED * AT_END.car;
  chance[L1 + 1] = MISSED * AT_END.engine;
  chance[P2] = MISSED * AT_END.shortEngine;
  return chance;
}

function lastAxle(): Float64Array {
  const chance = ends();
  chance[UNKNOWN] = 0.3;
  for (const lastButOne of [D1, E1, Q1, L6 - 1]) chance[lastButOne] = MISSED;
  return chance;
}

function ends(): Float64Array {
  const chance = new Float64Array(STATES);
  for (const last of [D2, E2, Q2, L6]) chance[last] = 1;
  chance[UNKNOWN] = 0.3;
  return chance;
}
